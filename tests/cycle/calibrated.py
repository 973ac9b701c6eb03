"""A simulated station that can be calibrated, with a calendar that tests turn on."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from station.cycle.bench.bench import Bench
from station.cycle.calibration.calibrating import Asked, calibrate_current, calibrate_microphone
from station.cycle.unit.unitcycle import UnitCycle
from station.hardware.files.stationfile import StationFile
from station.judging.files.shelf import limit_shelf
from station.records.kept.calibration import Calibration
from station.records.log.log import RunLog
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.calibrator import SimulatedCalibrator
from station.simulation.bench.stationfile import simulated_station
from station.simulation.bench.thermometer import SimulatedThermometer
from tests.cycle.line import LIMITS

BEGIN_UTC = datetime(2026, 11, 23, 6, 0, tzinfo=UTC)


class Calendar:
    """A clock that stands still until a test turns it on."""

    def __init__(self) -> None:
        self.now_utc = BEGIN_UTC

    def utc_now(self) -> datetime:
        return self.now_utc

    def monotonic_s(self) -> float:
        return (self.now_utc - BEGIN_UTC).total_seconds()

    def wait(self, seconds: float) -> None:
        self.now_utc += timedelta(seconds=seconds)

    def later(self, **by: float) -> None:
        self.now_utc += timedelta(**by)


@dataclass
class CalibratedStation:
    """One simulated station with its log."""

    bench: Bench
    twin: SimulatedBench
    log: RunLog
    clock: Calendar
    numbers: Iterator[int] = field(default_factory=lambda: itertools.count(1))

    def asked(self) -> Asked:
        return Asked(f"c{next(self.numbers)}", "N. Ørsted", 21.0)

    def by_calibrator(
        self,
        said_db_spl: float = 94.0,
        *,
        role: str = "microphone",
        calibrator: SimulatedCalibrator | None = None,
        faults: Mapping[str, float] | None = None,
    ) -> Calibration:
        """Calibrate a microphone; the calibrator on it gives what is said, if no other is given."""
        real = calibrator or SimulatedCalibrator(role, said_db_spl, 1000.0)
        self.twin.fixture.put_calibrator(real, faults or {})
        return calibrate_microphone(
            self.bench, self.log, role, said_db_spl, self.asked(), stop=threading.Event()
        )

    def by_resistor(
        self, said_ohm: float = 8.2, *, faults: Mapping[str, float] | None = None
    ) -> Calibration:
        """Calibrate the current sense by a resistor of 8.2 Ω."""
        self.twin.fixture.put_resistor(8.2, faults or {})
        return calibrate_current(
            self.bench, self.log, said_ohm, self.asked(), stop=threading.Event()
        )

    def cycle(self) -> UnitCycle:
        """Return a cycle on this station."""
        return UnitCycle(
            self.bench,
            limit_shelf(LIMITS),
            self.log,
            new_run_id=lambda: f"run-{next(self.numbers):04d}",
            shift_start_utc=BEGIN_UTC,
        )


def station_with_due(**due_days: float) -> StationFile:
    """Return the simulated station with some inputs due after so many days."""
    station, _ = simulated_station()
    calibration = station.calibration
    assert calibration is not None
    tables = {
        role: getattr(calibration, role).model_copy(update={"due_days": days})
        for role, days in due_days.items()
    }
    return station.model_copy(update={"calibration": calibration.model_copy(update=tables)})


@contextmanager
def calibrated_station(
    logs: Path,
    station: StationFile | None = None,
    *,
    faults: Mapping[str, Mapping[str, float]] | None = None,
) -> Iterator[CalibratedStation]:
    """Hold a simulated station with its log."""
    shipped, text = simulated_station()
    station = station or shipped
    clock = Calendar()
    twin = SimulatedBench(station, seed=7, faults_of=faults or {}, paced=False, clock=clock)
    bench = Bench(
        station,
        text,
        twin.audio,
        twin.fixture,
        clock,
        simulated=True,
        versions={"station": "test"},
        thermometer=SimulatedThermometer(twin.fixture),
    )
    with RunLog.open(logs) as log:
        yield CalibratedStation(bench, twin, log, clock)
