"""A technician's desk on a simulated bench, whose units break and are mended as a test says."""

from __future__ import annotations

import itertools
import re
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from station.cycle.bench.bench import Bench
from station.cycle.unit.report import UnitReport
from station.cycle.unit.unitcycle import UnitCycle
from station.records.log.log import RunLog
from station.service.builtlimits import limit_sources
from station.service.desk import Place, ServiceDesk
from station.service.servicetest import ServiceTest
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station
from tests.cycle.line import BEGIN_UTC, LIMITS, SteadyClock, nobody_watches, run_unit

SEED = 7
MATCH = """
[as_built]
level_db = 1.0
shape_db = 2.0

[pair]
level_db = 1.0
shape_db = 2.5
"""


@dataclass
class Works:
    """A line and a desk on one bench and one log; `faults` is what units have at this moment."""

    folder: Path
    faults: dict[str, dict[str, float]]
    desk: ServiceDesk
    log: RunLog
    line: UnitCycle

    def build(self, serial: str, **faults: float) -> UnitReport:
        """Test a unit in production."""
        self.faults[serial] = faults
        return run_unit(self.line, serial)

    def test(self, serial: str, **options: str) -> ServiceTest:
        """Test a unit in service."""
        return self.desk.test(
            serial, "T. Beck", on_progress=nobody_watches, stop=threading.Event(), **options
        )


def limits_folder(folder: Path, *names: str, match: bool = True) -> Path:
    """Return a folder with some of the demo's limit files, which say how alike curves must be."""
    folder.mkdir(exist_ok=True)
    for name in names or ("tarn2.toml",):
        write_limits(folder, name, tail=MATCH if match else "")
    return folder


def write_limits(
    folder: Path,
    source: str,
    target: str | None = None,
    *,
    revision: str = "A",
    tail: str = "",
) -> None:
    """Write one of the demo's limit files with another revision, other tables, other bands."""
    text = (LIMITS / source).read_text(encoding="utf-8")
    text = text.replace('revision = "A"', f'revision = "{revision}"', 1)
    text = re.sub(r"(?ms)^\[(as_built|pair)\]\n.*?(?=^\[|\Z)", "", text)
    folder.mkdir(exist_ok=True)
    for pattern in LIMITS.glob("*.pattern.json"):
        shutil.copy(pattern, folder)
    (folder / (target or source)).write_text(text + tail, encoding="utf-8")


@contextmanager
def works(tmp_path: Path, limits: Path, *, ids: str = "id") -> Iterator[Works]:
    """Hold a line and a desk."""
    station, text = simulated_station()
    clock = SteadyClock()
    faults: dict[str, dict[str, float]] = {}
    twin = SimulatedBench(
        station,
        seed=SEED,
        faults_of=lambda serial: faults.get(serial, {}),
        paced=False,
        clock=clock,
    )
    bench = Bench(
        station, text, twin.audio, twin.fixture, clock, simulated=True, versions={"station": "test"}
    )
    numbers = itertools.count(1)

    def new_id() -> str:
        return f"{ids}-{next(numbers):04d}"

    sources = limit_sources(limits)
    with RunLog.open(tmp_path / "log") as log:
        line = UnitCycle(bench, sources.shelf, log, new_run_id=new_id, shift_start_utc=BEGIN_UTC)
        place = Place(station.name, simulated=True, clock=clock)
        desk = ServiceDesk(place, sources, log, new_id=new_id, bench=bench)
        yield Works(tmp_path, faults, desk, log, line)
