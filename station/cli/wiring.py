"""Picks real or simulated hardware and puts bench, limits and log together."""

from __future__ import annotations

import platform
import uuid
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from importlib.metadata import version
from pathlib import Path
from tempfile import gettempdir

from station.cycle.bench import Bench
from station.cycle.unitcycle import UnitCycle
from station.errors import TextFileError
from station.hardware.clock import SystemClock
from station.hardware.manualfixture import ManualFixture
from station.hardware.portaudio import PortAudioDevice
from station.hardware.stationfile import station_file
from station.judging.shelf import limit_shelf
from station.records.log import RunLog
from station.simulation.bench import SimulatedBench
from station.simulation.stationfile import simulated_station

LOCK_FOLDER = Path(gettempdir()) / "station-locks"  # one for all stations of a computer
COMPUTING_LIBRARIES = ("station", "numpy", "scipy", "soundfile")


def versions() -> dict[str, str]:
    """Return the versions of everything that computes a verdict."""
    found = {name: version(name) for name in COMPUTING_LIBRARIES}
    return {"python": platform.python_version(), **found}


def log_folder(logs: Path, *, simulated: bool) -> Path:
    """Return where runs are kept: simulated ones never among real ones."""
    return logs / "simulated" if simulated else logs


@contextmanager
def simulated_bench(
    seed: int, faults_of: Callable[[str], Mapping[str, float]], *, paced: bool
) -> Iterator[Bench]:
    """Hold a bench of simulated hardware; `paced` sweeps take their real time."""
    station, text = simulated_station()
    clock = SystemClock()
    twin = SimulatedBench(station, seed=seed, faults_of=faults_of, paced=paced, clock=clock)
    yield Bench(station, text, twin.audio, twin.fixture, clock, True, versions())


@contextmanager
def real_bench(path: Path) -> Iterator[Bench]:
    """Hold the bench a station file describes; nobody else can have its device meanwhile."""
    if not path.exists():
        raise TextFileError(
            f"There is no station file {path}.",
            "Write one ('station doctor' shows how), name it with --station-file, "
            "or use --simulate.",
        )
    station, text = station_file(path)
    clock = SystemClock()
    inputs = tuple(row.input for row in station.inputs)
    audio = PortAudioDevice(station.audio, inputs, lock_folder=LOCK_FOLDER, clock=clock)
    try:
        audio.prepare()  # a missing or taken device is told before a unit is scanned
        yield Bench(station, text, audio, ManualFixture(), clock, False, versions())
    finally:
        audio.close()


@contextmanager
def ready_cycle(bench: Bench, limits_folder: Path, logs: Path) -> Iterator[UnitCycle]:
    """Hold a cycle on all limit files of a folder with its log open; the shift begins now."""
    shelf = limit_shelf(limits_folder)
    log = RunLog.open(log_folder(logs, simulated=bench.simulated))
    try:
        yield UnitCycle(
            bench,
            shelf,
            log,
            new_run_id=lambda: uuid.uuid4().hex,
            shift_start_utc=bench.clock.utc_now(),
        )
    finally:
        log.close()
