"""A digest of the program itself, so that results of two versions of it are never mixed."""

from __future__ import annotations

import hashlib
from pathlib import Path

DECIDING = (  # layers that decide how a unit ends; screens and commands do not
    "analysis", "cycle", "hardware", "judging", "records", "simulation", "study", "tomlfiles",
)  # fmt: skip
ENDINGS = (".py", ".toml")
DIGITS = 12


def source_digest(package: Path) -> str:
    """Return a short hash of the code in every layer of a package that decides."""
    digest = hashlib.sha256()
    for layer in DECIDING:
        for path in sorted((package / layer).rglob("*")):
            if path.suffix in ENDINGS:
                digest.update(f"{path.relative_to(package)}\n".encode())
                digest.update(path.read_bytes())
    return digest.hexdigest()[:DIGITS]
