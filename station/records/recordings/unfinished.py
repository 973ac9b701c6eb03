"""Files under way: where they are until they are whole, and how leftovers of a kill are swept up.

A file is written in a folder of its own and renamed into place when it is safe, so that whatever
is found there belongs to somebody who still writes, or to nobody. Writers share a lock on the
folder, which the system frees when they die; who gets it alone may delete what is there.
"""

from __future__ import annotations

import fcntl
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from station.records.chains.upkeep import UpkeepEntry, UpkeepKind
from station.records.files.durable import make_folder, sync_folder
from station.records.recordings.recording_file import sha256_of_file


@dataclass(frozen=True, slots=True)
class Leftover:
    """A file that was never finished, and what it held when it was deleted."""

    name: str
    size_bytes: int
    sha256: str


@contextmanager
def writing_in(folder: Path) -> Iterator[Path]:
    """Hold the folder so that nobody sweeps it meanwhile."""
    make_folder(folder)
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        fcntl.flock(handle, fcntl.LOCK_SH)
        yield folder
    finally:
        os.close(handle)


def swept_up(
    folder: Path, account_for: Callable[[tuple[Leftover, ...]], None]
) -> tuple[Leftover, ...]:
    """Delete what nobody writes any more, once it is accounted for; nothing if somebody writes."""
    if not folder.is_dir():
        return ()
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        found = tuple(leftover_at(path) for path in sorted(folder.iterdir()) if path.is_file())
        account_for(found)
        for left in found:
            (folder / left.name).unlink()
        sync_folder(folder)
    except BlockingIOError:
        return ()
    finally:
        os.close(handle)
    return found


def leftover_at(path: Path) -> Leftover:
    """Return what a file holds."""
    return Leftover(path.name, path.stat().st_size, sha256_of_file(path))


def swept_up_entry(left: Leftover, now_utc: datetime) -> UpkeepEntry:
    """Return the log's entry about a leftover."""
    reason = f"It was never finished; {left.size_bytes} bytes of it were there."
    return UpkeepEntry(now_utc, UpkeepKind.SWEPT_UP, left.name, left.sha256, reason)
