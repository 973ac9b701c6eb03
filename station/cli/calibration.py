"""`station calibrate`: what full scale of an input means, stored and told."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from station.analysis.recording import Role
from station.cli.exitcodes import Exit
from station.cli.single import stoppable
from station.cli.wiring import log_folder, real_bench, versions
from station.cycle.bench import Bench
from station.cycle.calibrating import Asked, calibrate_current, calibrate_microphone
from station.hardware.clock import SystemClock
from station.records.calibration import Calibration
from station.records.log import RunLog
from station.simulation.bench import SimulatedBench, SimulatedFixture
from station.simulation.calibrator import SimulatedCalibrator
from station.simulation.stationfile import simulated_station

CALIBRATOR_HZ = 1000.0
Place = Callable[[SimulatedFixture], None]


def calibrate_microphone_input(
    logs: Path,
    station_file: Path,
    role: Role,
    level_db_spl: float,
    asked: Asked,
    *,
    simulate: bool,
    seed: int,
) -> int:
    """Calibrate a microphone by the calibrator that is on it."""

    def put(fixture: SimulatedFixture) -> None:
        fixture.put_calibrator(SimulatedCalibrator(role, level_db_spl, CALIBRATOR_HZ), {})

    with (
        bench_for(station_file, put, simulate=simulate, seed=seed) as bench,
        RunLog.open(log_folder(logs, simulated=simulate)) as log,
        stoppable() as stop,
    ):
        return told(calibrate_microphone(bench, log, role, level_db_spl, asked, stop=stop))


def calibrate_current_input(
    logs: Path,
    station_file: Path,
    resistor_ohm: float,
    asked: Asked,
    *,
    simulate: bool,
    seed: int,
) -> int:
    """Calibrate the current sense by a known resistor in place of the unit."""

    def put(fixture: SimulatedFixture) -> None:
        fixture.put_resistor(resistor_ohm, {})

    with (
        bench_for(station_file, put, simulate=simulate, seed=seed) as bench,
        RunLog.open(log_folder(logs, simulated=simulate)) as log,
        stoppable() as stop,
    ):
        return told(calibrate_current(bench, log, resistor_ohm, asked, stop=stop))


def asked_by(by: str, temperature_c: float) -> Asked:
    """Return who calibrates and how warm it is, under a new number."""
    return Asked(uuid.uuid4().hex, by, temperature_c)


@contextmanager
def bench_for(path: Path, put: Place, *, simulate: bool, seed: int) -> Iterator[Bench]:
    """Hold the real bench, or a simulated one with the calibrator or the resistor on it."""
    if not simulate:
        with real_bench(path) as bench:
            yield bench
        return
    station, text = simulated_station()
    clock = SystemClock()
    twin = SimulatedBench(station, seed=seed, faults_of={}, paced=False, clock=clock)
    put(twin.fixture)
    yield Bench(station, text, twin.audio, twin.fixture, clock, True, versions())


def told(calibration: Calibration) -> int:
    """Tell the result and what to do; a refused one is a fault of the station."""
    click.echo("ACCEPTED" if calibration.accepted else "REFUSED")
    click.echo(calibration.happened)
    if calibration.remedy:
        click.echo(calibration.remedy)
    return Exit.PASS if calibration.accepted else Exit.FAULT
