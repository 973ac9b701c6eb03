"""Files that a kill left half-written are swept up at the next start, and never without a word."""

from __future__ import annotations

import hashlib
from pathlib import Path

from station.records.chains.upkeep import UpkeepKind
from station.records.files.places import UNFINISHED_NAME
from station.records.log.log import RunLog
from station.records.recordings.unfinished import writing_in
from tests.records.example import FACTS, STARTED, example_recording

HALF = b"fLaC and no more"


def left_behind(folder: Path) -> Path:
    """Leave half a file."""
    path = folder / UNFINISHED_NAME / ".r7.flac.partial"
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(HALF)
    return path


def test_a_leftover_is_deleted_and_accounted_for(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        path = left_behind(tmp_path)
        (left,) = log.sweep_up(STARTED)
        assert (left.name, left.size_bytes) == (".r7.flac.partial", 16)
        assert not path.exists()
        (entry,) = log.upkeep()
        assert entry.kind is UpkeepKind.SWEPT_UP
        assert entry.contents_sha256 == hashlib.sha256(HALF).hexdigest()
        assert log.sweep_up(STARTED) == ()


def test_nothing_is_swept_while_somebody_writes(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        path = left_behind(tmp_path)
        with writing_in(tmp_path / UNFINISHED_NAME):
            assert log.sweep_up(STARTED) == ()
            assert path.exists()
        assert log.sweep_up(STARTED) != ()


def test_a_stored_recording_leaves_nothing(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        log.store_recording(example_recording(), FACTS)
        assert list((tmp_path / UNFINISHED_NAME).iterdir()) == []
        assert log.sweep_up(STARTED) == ()
