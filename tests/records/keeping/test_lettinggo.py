"""Recordings go by rule, never without an entry in the log; results never go."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from station.judging.verdicts.verdict import Verdict
from station.records.keeping.lettinggo import entry_of, let_go
from station.records.keeping.verification import files_states
from station.records.log.log import RunLog
from station.records.recordings.retention import RetentionRule
from tests.records.example import FACTS, STARTED, example_recording, example_run, with_verdict

NOW = STARTED + timedelta(days=100)
PASSES = RetentionRule(frozenset({Verdict.PASS}), 30.0, 0)
# name, verdict, age in days at NOW
RUNS = [("p90", "pass", 90), ("f90", "fail", 90), ("p60", "pass", 60), ("p10", "pass", 10)]


@pytest.fixture
def log(tmp_path: Path) -> Iterator[RunLog]:
    """Return a log with four runs and their recordings."""
    with RunLog.open(tmp_path) as log:
        for name, verdict, age_days in RUNS:
            ref = log.store_recording(example_recording(), replace(FACTS, run_id=name))
            begun = NOW - timedelta(days=age_days)
            run = example_run(run_id=name, recording=ref, started_utc=begun)
            log.store(with_verdict(run, Verdict(verdict)))
        yield log


def kept(log: RunLog) -> set[str]:
    """Return the names of the recordings in the folder."""
    return {path.stem for path in (log._folder / "recordings").iterdir()}


@pytest.mark.parametrize(
    ("verdicts", "days", "keep", "stays"),
    [
        ("pass", 30.0, 0, {"f90", "p10"}),
        ("pass", 5.0, 0, {"f90"}),
        ("pass", 5.0, 1, {"f90", "p10"}),
        ("pass", 5.0, 2, {"f90", "p10", "p60"}),
        ("fail", 30.0, 0, {"p90", "p60", "p10"}),
        ("void", 0.0, 0, {"p90", "f90", "p60", "p10"}),
        ("pass fail", 80.0, 0, {"p60", "p10"}),
    ],
)
def test_a_rule_takes_what_it_says(
    log: RunLog, verdicts: str, days: float, keep: int, stays: set[str]
) -> None:
    rule = RetentionRule(frozenset(map(Verdict, verdicts.split())), days, keep)
    let_go(log, rule, NOW, dry_run=False)
    assert kept(log) == stays


def test_the_run_stays_whole_and_the_log_says_what_became_of_its_recording(log: RunLog) -> None:
    done = let_go(log, PASSES, NOW, dry_run=False)
    assert done.names == ("p90.flac", "p60.flac")
    assert len(log.runs_of("T2A00123")) == 4
    assert log.chain_fault() is None
    entries = log.upkeep()
    assert [entry.name for entry in entries] == ["p90.flac", "p60.flac"]
    assert {entry.reason for entry in entries} == {"Recordings of passes go after 30 days."}
    runs, _ = files_states(log._folder)
    assert (runs.unchanged, runs.let_go, runs.missing, runs.changed) == (2, 2, (), ())
    assert let_go(log, PASSES, NOW, dry_run=False).names == ()  # once


def test_a_dry_run_deletes_nothing(log: RunLog) -> None:
    assert len(let_go(log, PASSES, NOW, dry_run=True).names) == 2
    assert len(kept(log)) == 4
    assert log.upkeep() == ()


def test_a_changed_recording_is_kept_as_evidence(log: RunLog) -> None:
    path = log._folder / "recordings" / "p90.flac"
    path.write_bytes(path.read_bytes()[:-1])
    done = let_go(log, PASSES, NOW, dry_run=False)
    assert done.names == ("p60.flac",)
    assert done.doubtful == ("p90.flac",)
    assert path.exists()


def test_a_kill_between_entry_and_deletion_is_made_good(log: RunLog) -> None:
    (first, *_) = log.recordings_under(PASSES, NOW)
    log.store_upkeep(entry_of(first, PASSES, NOW))
    done = let_go(log, PASSES, NOW, dry_run=False)
    assert done.names == ("p60.flac",)
    assert kept(log) == {"f90", "p10"}
