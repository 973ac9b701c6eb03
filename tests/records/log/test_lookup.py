"""Runs are found by a part of the serial, model, verdict, cause and time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from station.judging.verdicts.verdict import Verdict
from station.records.log.log import RunLog
from station.records.log.lookup import Wanted, find_runs, place_of_run, runs_beginning
from tests.records.example import STARTED, example_run, with_verdict


@pytest.fixture
def log(tmp_path: Path) -> Iterator[RunLog]:
    """Return a log of three runs an hour apart: two fails, then a pass of another model."""
    with RunLog.open(tmp_path) as log:
        log.store(example_run(run_id="aa11", serial="T2A00123"))
        log.store(
            example_run(run_id="aa22", serial="T2A00124", started_utc=STARTED + timedelta(hours=1))
        )
        other = example_run(
            run_id="bb33",
            serial="F6A00123",
            model="Fell 60",
            started_utc=STARTED + timedelta(hours=2),
        )
        log.store(with_verdict(other, Verdict.PASS))
        yield log


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        (Wanted(), ["bb33", "aa22", "aa11"]),
        (Wanted(serial="00123"), ["bb33", "aa11"]),
        (Wanted(serial="t2a"), ["aa22", "aa11"]),
        (Wanted(model="fell"), ["bb33"]),
        (Wanted(verdict=Verdict.PASS), ["bb33"]),
        (Wanted(cause="too quiet"), ["aa22", "aa11"]),
        (Wanted(cause="response"), ["aa22", "aa11"]),
        (Wanted(cause="100 %_"), []),
        (Wanted(since=STARTED + timedelta(hours=1)), ["bb33", "aa22"]),
        (Wanted(until=STARTED + timedelta(hours=1)), ["aa11"]),
        (Wanted(serial="123", verdict=Verdict.FAIL, cause="resonance"), ["aa11"]),
        (Wanted(serial="' OR 1 --"), []),
    ],
)
def test_what_is_known_is_enough(log: RunLog, wanted: Wanted, found: list[str]) -> None:
    assert [run.run_id for run in find_runs(log, wanted, 10)] == found


def test_the_newest_come_first_and_no_more_than_wanted(log: RunLog) -> None:
    newest = find_runs(log, Wanted(), 2)
    assert [run.run_id for run in newest] == ["bb33", "aa22"]
    assert newest[0].cause == ""
    assert newest[1].cause == "Too quiet at 1.2 kHz."


def test_a_run_is_named_by_its_beginning_and_has_its_place_in_the_chain(log: RunLog) -> None:
    assert runs_beginning(log, "bb") == (("bb33", "F6A00123"),)
    assert len(runs_beginning(log, "aa")) == 2
    assert runs_beginning(log, "a%") == ()
    place = place_of_run(log, "aa22")
    assert place.number == 2
    newest = place_of_run(log, "bb33")
    assert (newest.number, newest.hash) == log.tips().links["runs"]


def test_trials_are_told(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        log.store(replace(example_run(), trial=True))
        assert find_runs(log, Wanted(), 1)[0].trial is True
