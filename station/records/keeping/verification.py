"""Is everything in the log what was written: structure, chains, tips and recordings.

The whole log is read over a connection of its own, so that tests go on meanwhile.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from station.errors import DamagedLogError, RecordingFileError
from station.records.chains.chain import RUNS, ChainState, chain_names, chain_states
from station.records.chains.chainedrows import CALIBRATIONS
from station.records.chains.losses import Loss, stored_losses
from station.records.chains.signatures import SignaturesState, signatures_state
from station.records.chains.tips import lost_since, read_tips
from station.records.chains.upkeep import UpkeepEntry, UpkeepKind, names_let_go, upkeep_entries
from station.records.damaged.renewal import keep_wal
from station.records.database.connection import connected, migrate, read_only
from station.records.database.schema import MIGRATIONS
from station.records.files.holding import Hold
from station.records.files.places import (
    BUSY_TIMEOUT_S,
    CALIBRATIONS_NAME,
    DATABASE_NAME,
    RECORDINGS_NAME,
    TIPS_NAME,
)
from station.records.files.troubles import DAMAGED, records_errors
from station.records.kept.run import RecordingRef
from station.records.recordings.recording_file import sha256_of_file

FOLDER_OF = {RUNS: RECORDINGS_NAME, CALIBRATIONS.name: CALIBRATIONS_NAME}


@dataclass(frozen=True, slots=True)
class LogState:
    """A database as it was found; `tips_noted` tells whether there was a file of tips to read."""

    structure: str  # what the database says of its own structure, empty where all is well
    lost: tuple[str, ...]  # what was noted beside the database but is not in it
    tips_noted: bool
    chains: tuple[ChainState, ...]
    losses: tuple[Loss, ...]  # known: what could not be read of databases that were set aside
    set_aside: tuple[UpkeepEntry, ...]
    signatures: SignaturesState

    @property
    def whole(self) -> bool:
        """Whether all of it is as it was written."""
        broken = any(chain.fault for chain in self.chains)
        return not (self.structure or self.lost or broken or self.signatures.faults)


@dataclass(frozen=True, slots=True)
class FilesState:
    """The recordings behind one table; the lists hold file names, in the order of the entries."""

    table: str
    unchanged: int
    let_go: int
    missing: tuple[str, ...]
    changed: tuple[str, ...]
    unclaimed: tuple[str, ...]  # in the folder, but named by no entry

    @property
    def whole(self) -> bool:
        """Whether every recording is what was stored, or was let go by rule."""
        return not (self.missing or self.changed)


def log_state(folder: Path) -> LogState:
    """Read the database of a logs folder and compute all its hashes again.

    Raises
    ------
    RecordsError
        If it cannot be read at all.
    """
    tips = read_tips(folder / TIPS_NAME)
    with records_errors(folder / DATABASE_NAME), reading(folder) as connection:
        (structure,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
        return LogState(
            "" if structure == "ok" else str(structure),
            () if tips is None else tuple(lost_since(tips, connection)),
            tips is not None,
            tuple(chain_states(connection)),
            stored_losses(connection),
            tuple(
                entry for entry in upkeep_entries(connection) if entry.kind is UpkeepKind.SET_ASIDE
            ),
            signatures_state(connection),
        )


def files_states(folder: Path) -> tuple[FilesState, ...]:
    """Read every recording of a logs folder again; return how those of each table stand."""
    with records_errors(folder / DATABASE_NAME), reading(folder) as connection:
        gone = names_let_go(connection)
        return tuple(
            files_state(table, recordings_of(connection, table), gone, folder / name)
            for table, name in FOLDER_OF.items()
        )


def entry_with_hash(folder: Path, digits: str) -> tuple[str, int] | None:
    """Return table and number of the entry whose hash begins with these digits, or None."""
    with records_errors(folder / DATABASE_NAME), reading(folder) as connection:
        for table in chain_names():
            row = connection.execute(
                f"SELECT seq FROM {table} WHERE substr(hash, 1, ?) = ?",  # noqa: S608 - our table names
                (len(digits), digits.lower()),
            ).fetchone()
            if row is not None:
                return table, int(row["seq"])
    return None


@contextmanager
def reading(folder: Path) -> Iterator[sqlite3.Connection]:
    """Hold a further connection to a database that is there, changing nothing that is damaged."""
    path = folder / DATABASE_NAME
    if not path.exists():
        raise DamagedLogError(f"{path} is gone.", DAMAGED)
    hold = Hold(folder)
    try:
        if hold.alone():
            keep_wal(folder)
            hold.shared()
        if not is_newest(path):
            with closing(connected(path, BUSY_TIMEOUT_S)) as connection:
                migrate(connection, path)
        with closing(read_only(path)) as connection:
            yield connection
    finally:
        hold.release()


def is_newest(path: Path) -> bool:
    """Return whether a database needs no migration."""
    with closing(read_only(path)) as connection:
        (version,) = connection.execute("PRAGMA user_version").fetchone()
    return bool(version == len(MIGRATIONS))


def recordings_of(connection: sqlite3.Connection, table: str) -> Iterator[RecordingRef]:
    """Yield the recordings that the entries of a table name, in order."""
    found = connection.execute(
        f"SELECT recording_name, recording_sha256 FROM {table} "  # noqa: S608 - our table names
        "WHERE recording_name IS NOT NULL ORDER BY seq"
    )
    return (RecordingRef(row["recording_name"], row["recording_sha256"]) for row in found)


def files_state(
    table: str, stored: Iterator[RecordingRef], gone: frozenset[str], folder: Path
) -> FilesState:
    """Compare the files of a folder with what was stored."""
    unchanged = let_go = 0
    missing, changed, named = [], [], set()
    for ref in stored:
        named.add(ref.name)
        path = folder / ref.name
        if ref.name in gone:
            let_go += 1
        elif not path.exists():
            missing.append(ref.name)
        elif sha256_or_none(path) != ref.sha256:
            changed.append(ref.name)
        else:
            unchanged += 1
    found = (file.name for file in folder.iterdir()) if folder.is_dir() else iter(())
    unclaimed = tuple(sorted(name for name in found if name not in named))
    return FilesState(table, unchanged, let_go, tuple(missing), tuple(changed), unclaimed)


def sha256_or_none(path: Path) -> str | None:
    """Return the SHA-256 of a file, None where it cannot be read."""
    try:
        return sha256_of_file(path)
    except RecordingFileError:
        return None
