"""A simulated line whose fixture hangs on a real serial port: pseudo-terminal, other process."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path

from station.cycle.bench.bench import Bench
from station.cycle.unit.unitcycle import UnitCycle
from station.hardware.attached.serialfixture import SerialFixture
from station.hardware.protocols.clock import SystemClock
from station.hardware.protocols.fixture import Fixture, Lamp, OnUnsafe
from station.judging.files.shelf import limit_shelf
from station.records.log.log import RunLog
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.fixture import SimulatedFixture
from station.simulation.bench.stationfile import simulated_station
from tests.cycle.line import LIMITS
from tests.hardware.serialbench import SerialBench, serial_bench


class WiredFixture:
    """A serial fixture that holds the simulated unit which the simulated audio plays into."""

    def __init__(self, wired: SerialFixture, twin: SimulatedFixture) -> None:
        self.wired = wired
        self.twin = twin

    def secure(self, serial: str, model: str) -> None:
        self.wired.secure(serial, model)
        self.twin.secure(serial, model)

    def await_start(self, stop: threading.Event, on_waiting: Callable[[], None]) -> None:
        self.wired.await_start(stop, on_waiting)

    def lid_closed(self) -> bool:
        return self.wired.lid_closed()

    def check_closed(self) -> None:
        self.wired.check_closed()

    def watched(self, on_unsafe: OnUnsafe) -> AbstractContextManager[None]:
        return self.wired.watched(on_unsafe)

    def bias_on_for_s(self) -> float | None:
        return self.wired.bias_on_for_s()

    def fall_safe(self) -> None:
        self.wired.fall_safe()

    def show(self, lamp: Lamp) -> None:
        self.wired.show(lamp)

    def release(self) -> None:
        self.twin.release()
        self.wired.release()


@dataclass(frozen=True)
class WiredLine:
    """The line with the process that plays its fixture."""

    cycle: UnitCycle
    bench: SerialBench
    twin: SimulatedBench
    log: RunLog


@contextmanager
def wired_line(folder: Path, *, paced: bool, **table: object) -> Iterator[WiredLine]:
    """Hold the line; `paced` sweeps take their real time."""
    station, text = simulated_station()
    clock = SystemClock()
    twin = SimulatedBench(station, seed=7, faults_of={}, paced=paced, clock=clock)
    numbers = itertools.count(1)
    with (
        serial_bench(folder / "ports") as bench,
        bench.fixture(**table) as serial,
        RunLog.open(folder / "logs") as log,
    ):
        fixture: Fixture = WiredFixture(serial, twin.fixture)
        cycle = UnitCycle(
            Bench(station, text, twin.audio, fixture, clock, True, {"station": "test"}),
            limit_shelf(LIMITS),
            log,
            new_run_id=lambda: f"run-{next(numbers):06d}",
            shift_start_utc=clock.utc_now(),
        )
        yield WiredLine(cycle, bench, twin, log)
