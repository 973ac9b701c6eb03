"""A copy of the log while the line runs, laid out like a logs folder, and tried before it counts.

The copy replaces an older one only if it has everything the older one has. Recordings never
change, so those that are there already are not copied again; what was let go stays in the copy.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from station.errors import RecordsError
from station.records.chains.chain import chain_states
from station.records.chains.tips import Tips, lost_since, tips_of, write_tips
from station.records.chains.upkeep import names_let_go
from station.records.database.connection import connected, snapshot
from station.records.files.durable import make_folder, sync_folder, write_durably
from station.records.files.places import BUSY_TIMEOUT_S, DATABASE_NAME, SET_ASIDE_NAME, TIPS_NAME
from station.records.files.troubles import records_errors
from station.records.keeping.verification import FOLDER_OF, recordings_of
from station.records.kept.run import RecordingRef

UNFINISHED = f".{DATABASE_NAME}.partial"
KEEP_BOTH = "Keep both folders as they are, and make the copy in an empty one."


@dataclass(frozen=True, slots=True)
class BackupMade:
    """What the copy holds; `doubtful` recordings are not what was stored and were not copied."""

    tips: Tips
    recordings_copied: int
    recordings_there: int
    doubtful: tuple[str, ...]


def back_up(folder: Path, target: Path) -> BackupMade:
    """Copy a logs folder, try the copy, and return what it holds.

    Raises
    ------
    RecordsError
        If it cannot be read or written, the copy does not hold, or an older copy has more.
    """
    with records_errors(target):
        make_folder(target)
    refuse_log_in_use(target)
    path = target / UNFINISHED
    with records_errors(target):
        path.unlink(missing_ok=True)
        try:
            copy_database(folder / DATABASE_NAME, path)
            tips = tried(path)
            refuse_if_older_has_more(target, path)
            path.rename(target / DATABASE_NAME)
            sync_folder(target)
            write_tips(target / TIPS_NAME, tips)
        finally:
            path.unlink(missing_ok=True)
    copied, there, doubtful = copy_recordings(folder, target)
    copy_set_aside(folder / SET_ASIDE_NAME, target / SET_ASIDE_NAME)
    return BackupMade(tips, copied, there, doubtful)


def refuse_log_in_use(target: Path) -> None:
    """Refuse to write over a database that somebody has open."""
    if (target / f"{DATABASE_NAME}-wal").exists():
        raise RecordsError(f"{target} is a log that is in use.", "Choose another folder.")


def copy_database(source: Path, path: Path) -> None:
    """Copy one state of a database, whatever is written to it meanwhile."""
    with (
        closing(connected(source, BUSY_TIMEOUT_S)) as live,
        closing(sqlite3.connect(path)) as copy,
    ):
        live.backup(copy)
    with path.open("rb") as file:
        os.fsync(file.fileno())


def tried(path: Path) -> Tips:
    """Return the tips of a copy that holds; raise RecordsError for one that does not."""
    with closing(connected(path, BUSY_TIMEOUT_S)) as copy, snapshot(copy):
        (structure,) = copy.execute("PRAGMA integrity_check(1)").fetchone()
        fault = next((chain.fault for chain in chain_states(copy) if chain.fault), None)
        if structure != "ok" or fault is not None:
            raise RecordsError(
                f"The copy does not hold: {fault or structure}.",
                "Verify the log itself with 'station verify-log'.",
            )
        return tips_of(copy)


def refuse_if_older_has_more(target: Path, path: Path) -> None:
    """Refuse to replace an older copy by one that lacks something of it."""
    if not (target / DATABASE_NAME).exists():
        return
    with (
        closing(connected(target / DATABASE_NAME, BUSY_TIMEOUT_S)) as older,
        closing(connected(path, BUSY_TIMEOUT_S)) as newer,
    ):
        lost = next(lost_since(tips_of(older), newer), None)
    if lost is not None:
        raise RecordsError(f"The older copy in {target} has more: {lost}", KEEP_BOTH)


def copy_recordings(folder: Path, target: Path) -> tuple[int, int, tuple[str, ...]]:
    """Copy the recordings that the copy of the database names; return how it went."""
    copied = there = 0
    doubtful = []
    with closing(connected(target / DATABASE_NAME, BUSY_TIMEOUT_S)) as copy:
        gone = names_let_go(copy)
        for ref, name in named_recordings(copy):
            if (target / name / ref.name).exists():
                there += 1
            elif copied_recording(folder / name / ref.name, target / name / ref.name, ref):
                copied += 1
            elif ref.name not in gone:
                doubtful.append(ref.name)
    return copied, there, tuple(doubtful)


def named_recordings(connection: sqlite3.Connection) -> Iterator[tuple[RecordingRef, str]]:
    """Yield every recording with the name of its folder."""
    for table, name in FOLDER_OF.items():
        for ref in recordings_of(connection, table):
            yield ref, name


def copied_recording(source: Path, destination: Path, ref: RecordingRef) -> bool:
    """Copy one recording if it is what was stored."""
    if not source.exists():
        return False
    with records_errors(destination):
        contents = source.read_bytes()
        if hashlib.sha256(contents).hexdigest() != ref.sha256:
            return False
        make_folder(destination.parent)
        write_durably(destination, contents)
    return True


def copy_set_aside(source: Path, target: Path) -> None:
    """Copy the databases that were set aside, which never change."""
    if not source.is_dir():
        return
    with records_errors(target):
        make_folder(target)
        for folder in sorted(source.iterdir()):
            unfinished = target / f".{folder.name}.partial"
            if not (target / folder.name).exists():
                shutil.rmtree(unfinished, ignore_errors=True)
                shutil.copytree(folder, unfinished)
                unfinished.rename(target / folder.name)
        sync_folder(target)
