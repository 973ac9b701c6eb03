"""Let recordings go: the log's entries first, the files after them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from station.errors import RecordingFileError
from station.records.chains.upkeep import UpkeepEntry, UpkeepKind
from station.records.files.durable import sync_folder
from station.records.files.troubles import records_errors
from station.records.kept.run import RecordingRef
from station.records.log.log import RunLog
from station.records.recordings.recording_file import sha256_of_file
from station.records.recordings.retention import RetentionRule

ENTRIES_AT_ONCE = 200  # in one transaction, before their files are deleted


@dataclass(frozen=True, slots=True)
class LetGo:
    """What a rule did: recordings let go with their bytes, and those kept because of a doubt."""

    names: tuple[str, ...]
    freed_bytes: int
    doubtful: tuple[str, ...]  # gone already, or not what was stored


def let_go(log: RunLog, rule: RetentionRule, now_utc: datetime, *, dry_run: bool) -> LetGo:
    """Let the recordings go that a rule names; a dry run only says which.

    Raises
    ------
    RecordsError
        If an entry cannot be written or a file not be deleted; what has no entry is kept.
    """
    finish(log)
    ruled = log.recordings_under(rule, now_utc)
    sure = [ref for ref in ruled if is_stored_one(log, ref)]
    doubtful = sorted({ref.name for ref in ruled} - {ref.name for ref in sure})
    freed_bytes = sum(log.path_of(ref).stat().st_size for ref in sure)
    if not dry_run:
        for batch in batches(sure):
            log.store_upkeep(*(entry_of(ref, rule, now_utc) for ref in batch))
            delete(log, [ref.name for ref in batch])
    names = tuple(ref.name for ref in sure)
    return LetGo(names, freed_bytes, tuple(doubtful))


def finish(log: RunLog) -> None:
    """Delete what was let go when a kill or a failing disk kept the file from being deleted."""
    gone = [entry.name for entry in log.upkeep() if entry.kind is UpkeepKind.LET_GO]
    delete(log, [name for name in gone if path_of(log, name).exists()])


def is_stored_one(log: RunLog, ref: RecordingRef) -> bool:
    """Return whether the file is there and holds what was stored."""
    try:
        return sha256_of_file(log.path_of(ref)) == ref.sha256
    except RecordingFileError:
        return False


def entry_of(ref: RecordingRef, rule: RetentionRule, now_utc: datetime) -> UpkeepEntry:
    """Return the log's entry about one recording."""
    return UpkeepEntry(now_utc, UpkeepKind.LET_GO, ref.name, ref.sha256, str(rule))


def delete(log: RunLog, names: Sequence[str]) -> None:
    """Delete files of recordings, for good even when the power fails."""
    for name in names:
        path = path_of(log, name)
        with records_errors(path):
            path.unlink()
    if names:
        sync_folder(path_of(log, names[0]).parent)


def path_of(log: RunLog, name: str) -> Path:
    """Return where the recording of a name is kept."""
    return log.path_of(RecordingRef(name, ""))


def batches(refs: Sequence[RecordingRef]) -> Iterator[Sequence[RecordingRef]]:
    """Yield the recordings some at a time."""
    for start in range(0, len(refs), ENTRIES_AT_ONCE):
        yield refs[start : start + ENTRIES_AT_ONCE]
