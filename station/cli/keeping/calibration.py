"""`station calibrate`: what full scale of an input means, stored and told."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import click

from station.analysis.recording import Role
from station.cli.keeping.calibrationforms import as_object, table_of, words_of
from station.cli.shared.exitcodes import Exit
from station.cli.shared.faultoptions import parsed_faults
from station.cli.shared.stopping import stoppable
from station.cli.wiring.rights import allow, new_id
from station.cli.wiring.wiring import STATION_FILE, log_folder, real_bench, simulated_hardware
from station.cycle.allowed.authority import Authority
from station.cycle.allowed.rights import Right
from station.cycle.bench.bench import Bench
from station.cycle.calibration.calibrating import Asked, calibrate_current, calibrate_microphone
from station.cycle.calibration.calibrationstate import INPUT_WORDS
from station.errors import RefusedInputError
from station.hardware.files.stationfile import StationFile
from station.records.files.places import CALIBRATIONS_NAME, DATABASE_NAME
from station.records.kept.calibration import Calibration
from station.records.log.log import RunLog
from station.simulation.bench.calibrator import SimulatedCalibrator
from station.simulation.bench.fixture import SimulatedFixture

Put = Callable[[SimulatedFixture, StationFile], None]


@dataclass(frozen=True, slots=True)
class CalibrationOptions:
    """What both calibrations are asked with."""

    logs: Path
    station_file: Path | None
    simulate: bool
    seed: int
    faults: tuple[str, ...]
    by: str
    pin_file: Path | None
    temperature_c: float
    as_json: bool

    def asked(self) -> Asked:
        """Return who asks, how warm it is, and a new id."""
        if not self.by.strip():
            raise RefusedInputError("Nobody is named.", "Say who calibrates with --by NAME.")
        return Asked(new_id(), self.by.strip(), self.temperature_c)


def run_microphone(level_db_spl: float, role: Role, options: CalibrationOptions) -> int:
    """Calibrate a microphone by the calibrator that is on it."""

    def put(fixture: SimulatedFixture, station: StationFile) -> None:
        table = None if station.calibration is None else station.calibration.calibrator
        if table is not None:  # without one, the calibration itself is refused
            calibrator = SimulatedCalibrator(role, level_db_spl, table.frequency_hz)
            fixture.put_calibrator(calibrator, parsed_faults(options.faults))

    asked = options.asked()
    with ready(options, put) as (bench, log), stoppable() as stop:
        click.echo(f"Listening to the calibrator on the {INPUT_WORDS[role]}.", err=True)
        done = calibrate_microphone(bench, log, role, level_db_spl, asked, stop=stop)
    return told(done, options)


def run_current(resistor_ohm: float, options: CalibrationOptions) -> int:
    """Calibrate the current sense by the resistor in place of a unit."""

    def put(fixture: SimulatedFixture, _station: StationFile) -> None:
        fixture.put_resistor(resistor_ohm, parsed_faults(options.faults))

    asked = options.asked()
    with ready(options, put) as (bench, log), stoppable() as stop:
        click.echo("A sweep plays into the resistor.", err=True)
        done = calibrate_current(bench, log, resistor_ohm, asked, stop=stop)
    return told(done, options)


@contextmanager
def ready(options: CalibrationOptions, put: Put) -> Iterator[tuple[Bench, RunLog]]:
    """Hold bench and log; `put` does on the simulated bench what a person does on the real one."""
    if options.faults and not options.simulate:
        raise RefusedInputError(
            "Faults can be planted in simulated hardware only.", "Add --simulate."
        )
    folder = log_folder(options.logs, simulated=options.simulate)
    with bench_of(options, put) as bench, RunLog.open(folder) as log:
        authority = Authority(log, bench.clock, new_id)
        allow(authority, bench.station, options.by.strip(), options.pin_file, Right.CALIBRATE)
        yield bench, log


@contextmanager
def bench_of(options: CalibrationOptions, put: Put) -> Iterator[Bench]:
    """Hold the bench to be calibrated."""
    path, temperature_c = options.station_file, options.temperature_c
    if not options.simulate:
        with real_bench(path or STATION_FILE, temperature_c=temperature_c) as bench:
            yield bench
        return
    bench, twin = simulated_hardware(
        options.seed, lambda _: {}, paced=False, path=path, temperature_c=temperature_c
    )
    put(twin.fixture, bench.station)
    yield bench


def told(calibration: Calibration, options: CalibrationOptions) -> int:
    """Tell the outcome and return the exit code: a refused calibration is a station fault."""
    if options.as_json:
        click.echo(json.dumps(as_object(calibration), ensure_ascii=False, allow_nan=False))
    else:
        folder = log_folder(options.logs, simulated=options.simulate) / CALIBRATIONS_NAME
        click.echo(words_of(calibration, folder))
    return Exit.PASS if calibration.accepted else Exit.FAULT


def show_calibrations(logs: Path, *, simulate: bool, as_json: bool) -> int:
    """Show every calibration, oldest first."""
    folder = log_folder(logs, simulated=simulate)
    if not (folder / DATABASE_NAME).exists():
        raise RefusedInputError(f"There is no log in {folder}.", "Name its folder with --logs.")
    with RunLog.open(folder) as log:
        calibrations = log.calibrations()
    if as_json:
        for one in calibrations:
            click.echo(json.dumps(as_object(one), ensure_ascii=False, allow_nan=False))
    else:
        click.echo(table_of(calibrations))
    return Exit.PASS
