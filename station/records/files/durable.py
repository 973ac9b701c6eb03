"""Put a file on the disk so that it is there whole or not at all, even when the power fails."""

from __future__ import annotations

import contextlib
import errno
import os
from pathlib import Path


def write_durably(path: Path, contents: bytes, under_way: Path | None = None) -> None:
    """Write a new file; it is on the disk, under its name, when this returns.

    The name appears only when the contents are safe, and the folder is synchronized last:
    without that a power failure may take back the rename. `under_way` is the folder it is written
    in until then, on the same disk; without it, its own.
    """
    if path.exists():
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))
    partial = (under_way or path.parent) / f".{path.name}.partial"
    try:
        with partial.open("wb") as file:
            file.write(contents)
            file.flush()
            os.fsync(file.fileno())
        partial.rename(path)
    finally:
        with contextlib.suppress(OSError):  # the first trouble is the one to tell
            partial.unlink(missing_ok=True)
    sync_folder(path.parent)


def make_folder(path: Path) -> None:
    """Create a folder with its parents, safe on the disk; one that exists is left alone."""
    if path.is_dir():
        return
    if path.exists():
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(path))
    make_folder(path.parent)
    path.mkdir(exist_ok=True)
    sync_folder(path.parent)


def sync_folder(path: Path) -> None:
    """Make names created in a folder survive a power failure."""
    handle = os.open(path, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
