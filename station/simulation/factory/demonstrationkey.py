"""The public half of the key that releases the demonstration's limit files.

Its private half and its passphrase are public, so it proves nothing: simulated lines believe it,
real ones never.
"""

from __future__ import annotations

from importlib import resources


def demonstration_key_pem() -> bytes:
    """Return the public key as PEM."""
    return resources.files(__package__).joinpath("demonstration.pub").read_bytes()
