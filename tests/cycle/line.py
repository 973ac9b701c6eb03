"""A whole simulated line for tests: real cycle, real log, real limit files, no screen."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

from station.cycle.bench.bench import Bench
from station.cycle.unit.report import Progress, UnitReport
from station.cycle.unit.unitcycle import UnitCycle
from station.hardware.protocols.audio import AudioDevice
from station.hardware.protocols.fixture import Fixture
from station.judging.files.shelf import LimitShelf, limit_shelf
from station.records.log.log import RunLog
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station

LIMITS = Path(__file__).parent.parent.parent / "limits"
BEGIN_UTC = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)


class SteadyClock:
    """Every look at it is one second later; waiting costs nothing."""

    def __init__(self) -> None:
        self._seconds = itertools.count()

    def utc_now(self) -> datetime:
        return BEGIN_UTC + timedelta(seconds=next(self._seconds))

    def monotonic_s(self) -> float:
        return float(next(self._seconds))

    def wait(self, seconds: float) -> None:
        pass


@contextmanager
def simulated_line(
    logs: Path,
    faults: Mapping[str, Mapping[str, float]],
    *,
    shelf: LimitShelf | None = None,
    audio: AudioDevice | None = None,
    fixture: Fixture | None = None,
    seed: int = 7,
    new_run_id: Callable[[], str] | None = None,
) -> Iterator[tuple[UnitCycle, RunLog]]:
    """Hold a cycle on simulated hardware, parts of it replaced, with its log."""
    station, text = simulated_station()
    clock = SteadyClock()
    twin = SimulatedBench(station, seed=seed, faults_of=faults, paced=False, clock=clock)
    bench = Bench(
        station,
        text,
        audio or twin.audio,
        fixture or twin.fixture,
        clock,
        simulated=True,
        versions={"station": "test"},
    )
    numbers = itertools.count(1)
    with RunLog.open(logs) as log:
        cycle = UnitCycle(
            bench,
            shelf or limit_shelf(LIMITS),
            log,
            new_run_id=new_run_id or (lambda: f"run-{next(numbers):04d}"),
            shift_start_utc=BEGIN_UTC,
        )
        yield cycle, log


def run_unit(cycle: UnitCycle, serial: str) -> UnitReport:
    """Test one unit without watching."""
    return cycle.test_unit(serial, on_progress=nobody_watches, stop=threading.Event())


def nobody_watches(_progress: Progress) -> None:
    pass
