"""A copy made while the line runs is a whole log, and never replaces one that has more."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from station.errors import RecordsError
from station.records.keeping.backup import back_up
from station.records.keeping.verification import files_states, log_state
from station.records.log.log import RunLog
from tests.records.example import FACTS, example_recording, example_run
from tests.records.same import same


def stored(log: RunLog, name: str) -> None:
    """Store a run with its recording."""
    ref = log.store_recording(example_recording(), replace(FACTS, run_id=name))
    log.store(example_run(run_id=name, recording=ref))


def test_the_copy_of_an_open_log_is_a_whole_log_that_goes_on(tmp_path: Path) -> None:
    with RunLog.open(tmp_path / "logs") as log:
        stored(log, "r0")
        stored(log, "r1")
        made = back_up(tmp_path / "logs", tmp_path / "copy")
        stored(log, "r2")  # the line goes on
        first_two = log.runs_of("T2A00123")[:2]
    assert made.tips.links["runs"][0] == 2
    assert (made.recordings_copied, made.recordings_there, made.doubtful) == (2, 0, ())
    assert log_state(tmp_path / "copy").whole
    assert log_state(tmp_path / "copy").tips_noted
    assert all(files.whole for files in files_states(tmp_path / "copy"))
    with RunLog.open(tmp_path / "copy") as restored:
        assert same(restored.runs_of("T2A00123"), first_two)
        stored(restored, "r3")
    assert log_state(tmp_path / "copy").whole


def test_a_later_copy_takes_what_is_new(tmp_path: Path) -> None:
    with RunLog.open(tmp_path / "logs") as log:
        stored(log, "r0")
        back_up(tmp_path / "logs", tmp_path / "copy")
        stored(log, "r1")
        made = back_up(tmp_path / "logs", tmp_path / "copy")
    assert (made.recordings_copied, made.recordings_there) == (1, 1)
    assert made.tips.links["runs"][0] == 2


def test_a_log_that_lost_runs_never_replaces_a_copy_that_has_them(tmp_path: Path) -> None:
    with RunLog.open(tmp_path / "logs") as log:
        stored(log, "r0")
        back_up(tmp_path / "logs", tmp_path / "copy")
    before = (tmp_path / "copy" / "station.db").read_bytes()
    with RunLog.open(tmp_path / "other") as other:
        other.store(example_run(run_id="another"))
    with pytest.raises(RecordsError, match="has more: Number 1 of runs is not the one"):
        back_up(tmp_path / "other", tmp_path / "copy")
    assert (tmp_path / "copy" / "station.db").read_bytes() == before
    assert not list((tmp_path / "copy").glob(".*"))


def test_a_broken_log_makes_no_copy(tmp_path: Path) -> None:
    with RunLog.open(tmp_path / "logs") as log:
        stored(log, "r0")
    with closing(sqlite3.connect(tmp_path / "logs" / "station.db", isolation_level=None)) as other:
        other.execute("DROP TRIGGER runs_no_update")
        other.execute("UPDATE runs SET serial = 'FORGED'")
    with pytest.raises(RecordsError, match="The copy does not hold: run number 1"):
        back_up(tmp_path / "logs", tmp_path / "copy")
    assert not (tmp_path / "copy" / "station.db").exists()


def test_a_log_in_use_is_no_place_for_a_copy(tmp_path: Path) -> None:
    with RunLog.open(tmp_path / "logs") as log, RunLog.open(tmp_path / "copy") as other:
        stored(log, "r0")
        stored(other, "r0")
        with pytest.raises(RecordsError, match="a log that is in use"):
            back_up(tmp_path / "logs", tmp_path / "copy")


def test_a_changed_recording_is_told_and_not_copied(tmp_path: Path) -> None:
    with RunLog.open(tmp_path / "logs") as log:
        stored(log, "r0")
    path = tmp_path / "logs" / "recordings" / "r0.flac"
    path.write_bytes(path.read_bytes() + b"\0")
    made = back_up(tmp_path / "logs", tmp_path / "copy")
    assert made.doubtful == ("r0.flac",)
    assert not (tmp_path / "copy" / "recordings" / "r0.flac").exists()
