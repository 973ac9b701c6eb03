"""What no chain can show by itself: that its newest entries are gone."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from station.records.chains.tips import SECTOR_BYTES, read_tips
from station.records.files.places import TIPS_NAME
from station.records.keeping.verification import log_state
from station.records.log.log import RunLog
from tests.records.example import example_run, example_upkeep


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a logs folder with three runs."""
    with RunLog.open(tmp_path) as log:
        for n in range(3):
            log.store(example_run(run_id=f"r{n}"))
    return tmp_path


def tampered(folder: Path, statement: str) -> None:
    """Change the database as somebody with patience would."""
    with closing(sqlite3.connect(folder / "station.db", isolation_level=None)) as other:
        for (name,) in other.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'"):
            other.execute(f"DROP TRIGGER {name}")
        other.execute(statement)


def test_the_tips_are_those_of_the_database(folder: Path) -> None:
    with RunLog.open(folder) as log:
        assert read_tips(folder / TIPS_NAME) == log.tips()
        assert log.tips().links["runs"][0] == 3
        log.store_upkeep(example_upkeep())
        assert read_tips(folder / TIPS_NAME) == log.tips()
    assert (folder / TIPS_NAME).stat().st_size % SECTOR_BYTES == 0


def test_newest_runs_that_were_cut_off_are_missed(folder: Path) -> None:
    tampered(folder, "DELETE FROM runs WHERE seq = 3")
    state = log_state(folder)
    assert not state.whole
    assert all(chain.fault is None for chain in state.chains)  # the chain alone holds
    assert state.lost == ("runs ends at number 2, but number 3 was stored.",)


def test_a_newest_run_written_anew_is_noticed(folder: Path) -> None:
    tampered(folder, "UPDATE runs SET hash = previous_hash WHERE seq = 3")
    assert log_state(folder).lost == ("Number 3 of runs is not the one that was stored.",)


@pytest.mark.parametrize("contents", [b"", b"\x00" * 512, b'{"format": 1', b"[]", b"7", b"\xff"])
def test_torn_tips_are_no_tips_and_the_next_run_notes_them(folder: Path, contents: bytes) -> None:
    (folder / TIPS_NAME).write_bytes(contents)
    assert read_tips(folder / TIPS_NAME) is None
    state = log_state(folder)
    assert state.whole
    assert not state.tips_noted
    with RunLog.open(folder) as log:
        log.store(example_run(run_id="next"))
        assert read_tips(folder / TIPS_NAME) == log.tips()


def test_tips_that_lag_behind_are_no_loss(folder: Path) -> None:
    older = (folder / TIPS_NAME).read_bytes()
    with RunLog.open(folder) as log:
        log.store(example_run(run_id="next"))
    (folder / TIPS_NAME).write_bytes(older)
    assert log_state(folder).whole
