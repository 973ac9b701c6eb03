"""Releases and role acts are kept for ever, in the order they came."""

from __future__ import annotations

import sqlite3
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from station.judging.verdicts.verdict import Verdict
from station.records.kept.roleact import Act
from station.records.log.log import RunLog
from tests.records.example import (
    STARTED,
    example_release,
    example_role_act,
    example_run,
    with_verdict,
)


def test_releases_and_acts_come_back_as_they_were_stored(tmp_path: Path) -> None:
    releases = (
        example_release(revision="A", holds_from=None),
        example_release(release_id="x2", limit_text="format = 1 # Ω\n"),
    )
    acts = (
        example_role_act(),
        example_role_act(act_id="a2", act=Act.REFUSED, person="", role="", details={}),
    )
    with RunLog.open(tmp_path) as log:
        for release in releases:
            log.store_release(release)
        for act in acts:
            log.store_role_act(act)
    with RunLog.open(tmp_path) as log:
        assert log.releases() == releases
        assert log.role_acts() == acts
        assert log.chain_fault() is None
        assert log.authority_fault() is None


def test_an_id_is_taken_once_and_a_time_needs_its_zone(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        log.store_release(example_release())
        log.store_role_act(example_role_act())
        with pytest.raises(ValueError, match="the log has a release x1"):
            log.store_release(example_release())
        with pytest.raises(ValueError, match="the log has a role act a1"):
            log.store_role_act(example_role_act())
        with pytest.raises(ValueError, match="no time zone"):
            log.store_role_act(example_role_act(act_id="a2", acted_utc=datetime(2026, 1, 1)))
        assert (len(log.releases()), len(log.role_acts())) == (1, 1)


def test_a_changed_act_is_a_fault_of_authority_and_a_changed_run_is_none(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        log.store(example_run())
        log.store_role_act(example_role_act())
        other = sqlite3.connect(tmp_path / "station.db", isolation_level=None)
        for (name,) in other.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'"):
            other.execute(f"DROP TRIGGER {name}")
        other.execute("UPDATE runs SET serial = 'x'")
        assert log.authority_fault() is None
        other.execute("UPDATE role_acts SET person = 'J. Moor'")
        other.close()
        told = "role act number 1 (a1): The role act was changed after it was written."
        assert str(log.authority_fault()) == told


def test_a_trial_counts_neither_in_the_shift_nor_in_the_production(tmp_path: Path) -> None:
    passed = with_verdict(example_run(), Verdict.PASS)
    with RunLog.open(tmp_path) as log:
        log.store(passed)
        log.store(example_run(run_id="r2", trial=True))
        later = STARTED + timedelta(minutes=1)
        log.store(example_run(run_id="r3", serial="T2A00124", trial=True, started_utc=later))
        count = log.shift_count(STARTED)
        assert (count.passed, count.failed, len(count.last)) == (1, 0, 1)
        assert [run.run_id for run in log.newest_runs("Tarn 2", "A")] == [passed.run_id]
        assert [run.trial for run in log.runs_of("T2A00123")] == [False, True]
