"""Picks real or simulated hardware and puts bench, limits and log together."""

from __future__ import annotations

import platform
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from importlib.metadata import version
from pathlib import Path
from tempfile import gettempdir

from station.cli.wiring.attached import attached_fixture, attached_turntable
from station.cli.wiring.rights import (
    NOTHING_ASKED,
    AskedRights,
    allow_trial,
    demonstration_keys,
    new_id,
    operator_desk,
)
from station.cli.wiring.startinglog import log_for_line
from station.cycle.allowed.admission import Admission
from station.cycle.allowed.authority import Authority
from station.cycle.bench.bench import Bench
from station.cycle.bench.stationmicrophone import correction_of, microphone_response_of
from station.cycle.unit.unitcycle import UnitCycle
from station.errors import TextFileError
from station.hardware.audio.portaudio import PortAudioDevice
from station.hardware.files.stationfile import StationFile, station_file
from station.hardware.protocols.clock import SystemClock
from station.hardware.protocols.thermometer import NotedTemperature, Thermometer
from station.judging.files.shelf import limit_shelf
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.fixture import ConditionsOf
from station.simulation.bench.stationfile import simulated_station
from station.simulation.bench.thermometer import SimulatedThermometer
from station.simulation.bench.turntable import SimulatedTurning

LOCK_FOLDER = Path(gettempdir()) / "station-locks"  # one for all stations of a computer
STATION_FILE = Path(".station.toml")  # where none is named
COMPUTING_LIBRARIES = ("station", "numpy", "scipy", "soundfile")

FaultsOf = Callable[[str], Mapping[str, float]]


def versions() -> dict[str, str]:
    """Return the versions of everything that computes a verdict."""
    found = {name: version(name) for name in COMPUTING_LIBRARIES}
    return {"python": platform.python_version(), **found}


def log_folder(logs: Path, *, simulated: bool) -> Path:
    """Return where runs are kept: simulated ones never among real ones."""
    return logs / "simulated" if simulated else logs


def held_bench(
    *,
    simulate: bool,
    path: Path | None,
    temperature_c: float | None,
    seed: int,
    faults_of: FaultsOf,
    paced: bool,
    conditions_of: ConditionsOf | None = None,
    checked: bool = False,
) -> AbstractContextManager[Bench]:
    """Return the bench to be held: simulated, or the one a station file describes.

    `checked` asks a simulated station for station checks; a real one's file says so itself.
    """
    if simulate:
        return simulated_bench(
            seed,
            faults_of,
            paced=paced,
            path=path,
            temperature_c=temperature_c,
            conditions_of=conditions_of,
            checked=checked,
        )
    return real_bench(path or STATION_FILE, temperature_c=temperature_c)


@contextmanager
def simulated_bench(
    seed: int,
    faults_of: FaultsOf,
    *,
    paced: bool,
    path: Path | None = None,
    temperature_c: float | None = None,
    conditions_of: ConditionsOf | None = None,
    checked: bool = False,
) -> Iterator[Bench]:
    """Hold a bench of simulated hardware; `paced` sweeps take their real time."""
    bench, _ = simulated_hardware(
        seed,
        faults_of,
        paced=paced,
        path=path,
        temperature_c=temperature_c,
        conditions_of=conditions_of,
        checked=checked,
    )
    yield bench


def simulated_hardware(
    seed: int,
    faults_of: FaultsOf,
    *,
    paced: bool,
    path: Path | None,
    temperature_c: float | None,
    conditions_of: ConditionsOf | None = None,
    checked: bool = False,
) -> tuple[Bench, SimulatedBench]:
    """Return a bench of simulated hardware, and the twins themselves.

    With a station file they have its inputs, scale factors and microphone.
    """
    station, text = simulated_station(checked=checked) if path is None else station_file(path)
    correction = None if path is None else correction_of(station, path.parent)
    clock = SystemClock()
    twin = SimulatedBench(
        station,
        seed=seed,
        faults_of=faults_of,
        paced=paced,
        clock=clock,
        correction=correction,
        conditions_of=conditions_of,
    )
    bench = Bench(
        station,
        text,
        twin.audio,
        twin.fixture,
        clock,
        True,
        versions(),
        thermometer_of(station, temperature_c) or SimulatedThermometer(twin.fixture),
        microphone_response_of(station, correction),
        SimulatedTurning(twin.fixture),
    )
    return bench, twin


def thermometer_of(station: StationFile, temperature_c: float | None) -> Thermometer | None:
    """Return what was said on the command line or in the station file; None if neither."""
    noted_c = station.temperature_c if temperature_c is None else temperature_c
    return None if noted_c is None else NotedTemperature(noted_c)


@contextmanager
def real_bench(path: Path, *, temperature_c: float | None) -> Iterator[Bench]:
    """Hold the bench a station file describes; nobody else can have its device meanwhile."""
    if not path.exists():
        raise TextFileError(
            f"There is no station file {path}.",
            "Write one ('station doctor' shows how), name it with --station-file, "
            "or use --simulate.",
        )
    station, text = station_file(path)
    correction = correction_of(station, path.parent)
    clock = SystemClock()
    inputs = tuple(row.input for row in station.inputs)
    audio = PortAudioDevice(station.audio, inputs, lock_folder=LOCK_FOLDER, clock=clock)
    try:
        audio.prepare()  # a missing or taken device is told before a unit is scanned
        with (
            attached_fixture(station, clock) as fixture,
            attached_turntable(station, clock) as turntable,
        ):
            yield Bench(
                station,
                text,
                audio,
                fixture,
                clock,
                False,
                versions(),
                thermometer_of(station, temperature_c) or NotedTemperature(),
                microphone_response_of(station, correction),
                turntable,
            )
    finally:
        audio.close()


@contextmanager
def ready_cycle(
    bench: Bench, limits_folder: Path, logs: Path, asked: AskedRights = NOTHING_ASKED
) -> Iterator[UnitCycle]:
    """Hold a cycle on all limit files of a folder with its log open; the shift begins now.

    Released limit files judge, and in a trial any; where the station file has roles, a trial
    needs a PIN and production a badge.
    """
    shelf = limit_shelf(limits_folder)
    log = log_for_line(log_folder(logs, simulated=bench.simulated), bench.clock)
    try:
        authority = Authority(log, bench.clock, new_id)
        allow_trial(authority, bench.station, asked)
        admission = Admission(
            authority,
            log,
            demonstration_keys=demonstration_keys() if bench.simulated else (),
            trial=asked.trial,
        )
        admission.take_in(shelf)
        yield UnitCycle(
            bench,
            shelf,
            log,
            new_run_id=new_id,
            shift_start_utc=bench.clock.utc_now(),
            admission=admission,
            desk=operator_desk(authority, bench.station, asked),
        )
    finally:
        log.close()
