"""Release the demo limit files by the demonstration's key.

    ./.run python -m tests.demo_limits.release limits

Key and passphrase are public, so that anybody may change the demonstration: simulated lines
believe this key, real ones never.
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime, time
from functools import cache
from pathlib import Path

from station.judging.files.shelf import shelved
from station.judging.release.keys import PrivateKey, opened_key
from station.judging.release.releasefile import release_path, signed_release

KEY = Path(__file__).with_name("demonstration.key")
PASSPHRASE = "public, for demonstrations only"


@cache
def demonstration_key() -> PrivateKey:
    """Return the opened key; opening it is slow on purpose."""
    return opened_key(KEY, PASSPHRASE)


def release(path: Path) -> None:
    """Write the release file of a limit file, as of the day the file names: always the same."""
    file = shelved(path)
    released_utc = datetime.combine(file.limits.model.day, time(), UTC)
    author = file.limits.model.author
    signed = signed_release(file.limits, file.text, author, released_utc, demonstration_key())
    release_path(path).write_text(signed.text(), encoding="utf-8")


def release_all(folder: Path) -> None:
    """Release every limit file of a folder."""
    for path in sorted(folder.glob("*.toml")):
        release(path)


if __name__ == "__main__":
    release_all(Path(sys.argv[1]))
