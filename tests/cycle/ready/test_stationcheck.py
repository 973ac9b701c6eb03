"""No unit is tested unless a reference unit passed lately, on a simulated line and a real log."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

import pytest

from station.cycle.bench.bench import Bench
from station.cycle.ready.stationcheck import set_apart_at_station, why_due
from station.cycle.unit.unitcycle import UnitCycle
from station.errors import StationFaultError, StoppedError
from station.hardware.files.checktables import CheckTable
from station.judging.files.shelf import limit_shelf
from station.judging.verdicts.verdict import Verdict
from station.records.kept.run import SetApart
from station.records.log.log import RunLog
from station.records.summaries.shift import ShiftCount
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station
from tests.cycle.line import BEGIN_UTC, LIMITS, SteadyClock, nobody_watches, run_unit

REFERENCE = "T2A00000"
TABLE = CheckTable(
    serials=(REFERENCE, "F6A00000"),
    every_hours=8.0,
    every_units=4,
    level_drift_db=0.3,
    shape_drift_db=1.0,
    same_cause_fails=2,
)


@contextmanager
def checked_line(
    logs: Path, faults: Mapping[str, Mapping[str, float]], table: CheckTable = TABLE
) -> Iterator[tuple[UnitCycle, RunLog]]:
    """Hold a line whose station file asks for checks; faults may change while it is held."""
    station, text = simulated_station()
    station = station.model_copy(update={"check": table})
    clock = SteadyClock()
    twin = SimulatedBench(
        station, seed=7, faults_of=lambda serial: faults.get(serial, {}), paced=False, clock=clock
    )
    bench = Bench(station, text, twin.audio, twin.fixture, clock, True, {"station": "test"})
    names = iter(f"run-{number:04d}" for number in range(1, 100))
    with RunLog.open(logs) as log:
        yield (
            UnitCycle(
                bench,
                limit_shelf(LIMITS),
                log,
                new_run_id=lambda: next(names),
                shift_start_utc=BEGIN_UTC,
            ),
            log,
        )


def refusal(cycle: UnitCycle, serial: str) -> StationFaultError:
    with pytest.raises(StationFaultError) as caught:
        run_unit(cycle, serial)
    return caught.value


def test_the_first_unit_of_a_station_is_a_reference_unit(tmp_path: Path) -> None:
    with checked_line(tmp_path, {}) as (cycle, log):
        error = refusal(cycle, "T2A00101")
        assert error.happened == "The station was never checked with a reference unit."
        assert "T2A00000 or F6A00000" in error.remedy
        assert log.run_count() == 0
        judgement = run_unit(cycle, REFERENCE).final.judgement
        assert (judgement.verdict, judgement.next_step) == (
            Verdict.PASS,
            "The station is checked. Put the reference unit away.",
        )
        assert run_unit(cycle, "T2A00101").final.judgement.verdict is Verdict.PASS


def test_a_check_is_marked_and_no_production_of_the_shift(tmp_path: Path) -> None:
    faults = {"F6A00000": {"station_silent_microphone": 1.0}}
    with checked_line(tmp_path, faults) as (cycle, log):
        run_unit(cycle, "F6A00000")
        assert [run.set_apart for run in log.runs_of("F6A00000")] == [SetApart.CHECK] * 3  # voids
        run_unit(cycle, REFERENCE)
        assert cycle.shift_so_far() == ShiftCount(0, 0, 0, ())
        run_unit(cycle, "T2A00101")
        (run,) = log.runs_of("T2A00101")
        assert run.set_apart is None
        assert [unit.serial for unit in cycle.shift_so_far().last] == ["T2A00101"]


def test_a_check_that_is_stopped_is_marked_too(tmp_path: Path) -> None:
    stop = threading.Event()
    stop.set()
    with checked_line(tmp_path, {}) as (cycle, log):
        with pytest.raises(StoppedError):
            cycle.test_unit(REFERENCE, on_progress=nobody_watches, stop=stop)
        (run,) = log.runs_of(REFERENCE)
        assert run.set_apart is SetApart.CHECK


def test_a_reference_unit_in_a_gauge_study_is_marked_as_of_the_study(tmp_path: Path) -> None:
    with checked_line(tmp_path, {}) as (cycle, _):
        report = cycle.test_unit(
            REFERENCE,
            on_progress=nobody_watches,
            stop=threading.Event(),
            set_apart=SetApart.GAUGE,
        )
        assert report.final.set_apart is SetApart.GAUGE


def test_a_station_without_checks_has_no_reference_units() -> None:
    assert set_apart_at_station(None, REFERENCE, None) is None


def test_a_check_holds_for_so_many_units_and_another_renews_it(tmp_path: Path) -> None:
    with checked_line(tmp_path, {}) as (cycle, _):
        run_unit(cycle, REFERENCE)
        for number in range(101, 105):
            run_unit(cycle, f"T2A{number:05d}")
        run_unit_again = refusal(cycle, "T2A00105")
        assert run_unit_again.happened.startswith("4 units were tested since")
        run_unit(cycle, REFERENCE)
        run_unit(cycle, "T2A00105")


def test_a_reference_unit_that_fails_stops_the_line(tmp_path: Path) -> None:
    faults: dict[str, dict[str, float]] = {}
    with checked_line(tmp_path, faults) as (cycle, _):
        run_unit(cycle, REFERENCE)
        faults[REFERENCE] = {"dead_tweeter": 1.0}
        assert "Call the technician" in run_unit(cycle, REFERENCE).final.judgement.next_step
        assert refusal(cycle, "T2A00101").happened.startswith(
            f"The reference unit {REFERENCE} failed"
        )


def test_a_station_that_drifts_inside_the_limits_is_found_by_the_reference_unit(
    tmp_path: Path,
) -> None:
    faults: dict[str, dict[str, float]] = {}
    with checked_line(tmp_path, faults) as (cycle, _):
        run_unit(cycle, REFERENCE)
        # far inside the limits of the model
        faults[REFERENCE] = {"station_aged_microphone": 0.4}
        last = run_unit(cycle, REFERENCE).final
        assert last.judgement.verdict is Verdict.PASS
        happened = refusal(cycle, "T2A00101").happened
        assert happened.startswith(f"The reference unit {REFERENCE} reads")


def test_units_in_a_row_with_one_cause_ask_whether_it_is_the_station(tmp_path: Path) -> None:
    dead = {f"T2A{number:05d}": {"dead_tweeter": 1.0} for number in (101, 102, 103)}
    with checked_line(tmp_path, dead) as (cycle, _):
        run_unit(cycle, REFERENCE)
        run_unit(cycle, "T2A00101")
        run_unit(cycle, "T2A00101")  # the same unit again is no second one
        run_unit(cycle, "T2A00102")
        happened = refusal(cycle, "T2A00103").happened
        assert happened.startswith("2 units in a row failed by their ")


def test_a_check_ends_with_its_hours_and_not_before_its_time(tmp_path: Path) -> None:
    with checked_line(tmp_path, {}) as (cycle, log):
        run_unit(cycle, REFERENCE)
        (run,) = log.runs_of(REFERENCE)
        name, started = run.setup.station_name, run.started_utc
        due = {
            hours: why_due(TABLE, name, log, started + timedelta(hours=hours))
            for hours in (-1.0, 7.9, 8.0)
        }
        assert due[7.9] is None
        assert "over its 8 hours" in str(due[8.0])
        assert "the clock is off" in str(due[-1.0])


def test_another_stations_check_is_no_check_of_this_one(tmp_path: Path) -> None:
    with checked_line(tmp_path, {}) as (cycle, log):
        run_unit(cycle, REFERENCE)
        assert why_due(TABLE, "line 2", log, BEGIN_UTC) == (
            "The station was never checked with a reference unit."
        )
