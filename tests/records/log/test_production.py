"""Runs in service, of gauge studies, of reference units and on trial are no production."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from station.judging.verdicts.verdict import Verdict
from station.records.kept.run import SetApart
from station.records.kept.service import StepKind
from station.records.log.gauges import GaugeLog
from station.records.log.log import RunLog
from station.records.log.production import LeftOut, left_out
from station.records.log.services import ServiceLog
from station.records.log.watch import WatchLog
from station.records.summaries.runlist import Period
from station.records.summaries.stationchecks import CheckRun
from tests.records.example import (
    SETUP,
    STARTED,
    example_gauge_entry,
    example_gauge_plan,
    example_run,
    example_service,
    example_step,
    with_verdict,
)

UNIT = "T2A00123"
LATER = STARTED + timedelta(hours=1)


@pytest.fixture
def log(tmp_path: Path) -> Iterator[RunLog]:
    """A unit made, then serviced; another one of a gauge study; a third on trial."""
    with RunLog.open(tmp_path) as log:
        for run_id, started, attempt, verdict in (
            ("made", STARTED, 1, Verdict.PASS),
            ("void", LATER, 1, Verdict.VOID),
            ("before", LATER, 2, Verdict.FAIL),
            ("after", LATER, 1, Verdict.PASS),
        ):
            run = example_run(run_id=run_id, serial=UNIT, started_utc=started, attempt=attempt)
            log.store(with_verdict(run, verdict))
        services = ServiceLog(log)
        services.open_service(example_service())
        for kind, run_id in ((StepKind.BEFORE, "before"), (StepKind.AFTER, "after")):
            services.add_step(example_step(step_id=run_id, kind=kind, run_id=run_id, part=""))
        services.add_step(example_step())  # a part, which names no run
        gauges = GaugeLog(log)
        gauges.open_study(example_gauge_plan())
        log.store(example_run(run_id="gauged", serial="T2A00124"))
        gauges.add_entry(example_gauge_entry(run_id="gauged"))
        log.store(example_run(run_id="tried", serial="T2A00125", trial=True))
        log.store(example_run(run_id="next", serial="T2A00126", started_utc=LATER))
        yield log


def test_a_run_in_service_and_the_voids_before_it_are_no_production(log: RunLog) -> None:
    production = ["made", "next"]
    assert [run.run_id for run in log.list_runs("Tarn 2", Period())] == production
    assert [run.serial for run in WatchLog(log).runs("Tarn 2", Period())] == [UNIT, "T2A00126"]
    assert [run.run_id for run in log.newest_runs("Tarn 2", "A")] == production


def test_a_shift_counts_production_alone(log: RunLog) -> None:
    assert [unit.serial for unit in log.shift_count(STARTED).last] == ["T2A00126", UNIT]
    (model,) = log.shift_summary(STARTED, LATER + timedelta(hours=1)).models
    assert (model.units, model.runs, model.passed, model.void) == (2, 2, 1, 0)


def test_a_run_that_says_itself_what_it_was_made_for_needs_no_entry(log: RunLog) -> None:
    for name, serial in ((SetApart.GAUGE, "T2A00127"), (SetApart.SERVICE, "T2A00128")):
        log.store(example_run(run_id=serial, serial=serial, set_apart=name, started_utc=LATER))
    log.store(example_run(run_id="x", serial="T2A00129", set_apart=SetApart.GAUGE, trial=True))
    assert left_out(log, None, Period()) == LeftOut(trials=2, gauge=2, service=4)
    assert [run.run_id for run in log.list_runs("Tarn 2", Period())] == ["made", "next"]


@pytest.fixture
def checked(log: RunLog) -> RunLog:
    """The same, with a reference unit that was void once, and another one that was tried out."""
    for run_id, attempt, verdict in (("unsure", 1, Verdict.VOID), ("proved", 2, Verdict.PASS)):
        run = example_run(run_id=run_id, serial="T2A00000", started_utc=LATER, attempt=attempt)
        log.store(with_verdict(replace(run, set_apart=SetApart.CHECK), verdict))
    log.store(example_run(run_id="x", serial="T2A00001", set_apart=SetApart.CHECK, trial=True))
    return log


def test_a_station_check_is_no_production(checked: RunLog) -> None:
    assert [run.run_id for run in checked.list_runs("Tarn 2", Period())] == ["made", "next"]
    assert [run.run_id for run in checked.newest_runs("Tarn 2", "A")] == ["made", "next"]
    shift = checked.shift_count(STARTED)
    assert [unit.serial for unit in shift.last] == ["T2A00126", UNIT]
    assert (shift.passed, shift.void) == (1, 0)
    (model,) = checked.shift_summary(STARTED, LATER + timedelta(hours=1)).models
    assert (model.units, model.runs, model.passed, model.void) == (2, 2, 1, 0)
    assert left_out(checked, None, Period()) == LeftOut(trials=2, gauge=1, service=3, check=2)


def test_a_station_check_is_seen_where_the_reference_units_are_wanted(checked: RunLog) -> None:
    watched = [run.serial for run in WatchLog(checked).runs("Tarn 2", Period())]
    assert watched == [UNIT, "T2A00126", "T2A00000", "T2A00000"]
    found = checked.newest_check(SETUP.station_name, ("T2A00000", "T2A00001"))
    assert found is not None
    assert found[0] == CheckRun("T2A00000", Verdict.PASS, LATER)


def test_a_unit_that_became_a_reference_unit_keeps_its_production(checked: RunLog) -> None:
    checked.store(example_run(run_id="kept", serial="T2A00126", set_apart=SetApart.CHECK))
    assert [run.run_id for run in checked.newest_runs("Tarn 2", "A")] == ["made", "next"]


def test_a_station_check_that_a_service_names_is_counted_once(checked: RunLog) -> None:
    step = example_step(step_id="kept", kind=StepKind.AFTER, run_id="proved", part="")
    ServiceLog(checked).add_step(step)
    assert left_out(checked, None, Period()) == LeftOut(trials=2, gauge=1, service=5, check=0)


def test_what_is_left_out_is_counted_by_its_reason(log: RunLog) -> None:
    assert left_out(log, "Tarn 2", Period()) == LeftOut(trials=1, gauge=1, service=3)
    assert left_out(log, None, Period(since_utc=LATER)) == LeftOut(service=3)
    assert left_out(log, None, Period(until_utc=LATER)) == LeftOut(trials=1, gauge=1)
    assert left_out(log, "Fell 60", Period()) == LeftOut()
