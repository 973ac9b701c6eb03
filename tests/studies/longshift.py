"""A shift in compressed time: nothing is lost, and neither memory nor file handles grow.

The simulated line sends units, good, faulty and repaired ones, bangs, troubles of the station and
the reference units in their turn; the operator does what the screen says. Every scan goes through
the real cycle into a real log. Run by `python -m tests.studies.longshift [UNITS] [FOLDER]`, a
third to two thirds of a second a unit on one core; 3000 units are an eight-hour shift of a fast
line.
"""

from __future__ import annotations

import gc
import itertools
import os
import shutil
import sys
import tempfile
import threading
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from station.cli.wiring.simulatedcycle import SimulatedLineCycle
from station.cycle.bench.bench import Bench
from station.cycle.unit.unitcycle import UnitCycle
from station.errors import StationFaultError
from station.judging.files.shelf import limit_shelf
from station.records.log.log import RunLog
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station
from station.simulation.factory.line import LineState, SimulatedLine
from station.simulation.factory.shift import Rates, Shift

LIMITS = Path(__file__).parents[2] / "limits"
BEGIN_UTC = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
SHIFT_S = 8 * 3600.0
RATES = Rates(faulty_ratio=0.05, trouble_ratio=0.03, bang_ratio=0.05)  # more than on a good day
PAGE_BYTES = os.sysconf("SC_PAGE_SIZE")
WARM_RATIO = 0.1  # of the shift, in which caches fill


class ShiftClock:
    """Wall clock and monotonic clock of a compressed shift; every look costs a millisecond."""

    def __init__(self) -> None:
        self._passed_s = 0.0

    def utc_now(self) -> datetime:
        return BEGIN_UTC + timedelta(seconds=self.monotonic_s())

    def monotonic_s(self) -> float:
        self._passed_s += 1e-3
        return self._passed_s

    def wait(self, seconds: float) -> None:
        self._passed_s += seconds


@dataclass(frozen=True, slots=True)
class Use:
    """What the process holds."""

    memory_mb: float
    handles: int


@dataclass(frozen=True, slots=True)
class ShiftEnd:
    """What a shift came to."""

    scans: int
    shown: Counter[str]
    refused: Counter[str]
    stored_runs: int
    shown_runs: int
    lost: tuple[str, ...]  # runs that were shown and are not stored as shown
    chain_fault: str | None
    missing_recordings: int
    warm: Use
    end: Use

    @property
    def memory_growth_ratio(self) -> float:
        """Memory at the end against memory once warm, less one."""
        return self.end.memory_mb / self.warm.memory_mb - 1.0


def used() -> Use:
    """Return resident memory and open file handles of this process."""
    gc.collect()
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return Use(pages * PAGE_BYTES / 1e6, sum(1 for _ in Path("/proc/self/fd").iterdir()))


def shift(scans: int, logs: Path, *, seed: int = 5) -> ShiftEnd:
    """Return how a shift of so many scans ends."""
    line = SimulatedLine(LineState(Shift(seed, day=3, rates=RATES)))
    station, text = simulated_station(checked=True)
    clock = ShiftClock()
    twin = SimulatedBench(
        station,
        seed=seed,
        faults_of=line.faults_of,
        paced=False,
        clock=clock,
        conditions_of=line.conditions_of,
    )
    bench = Bench(station, text, twin.audio, twin.fixture, clock, True, {"station": "study"})
    numbers = itertools.count(1)
    shown: dict[str, str] = {}
    serials: set[str] = set()
    refused: Counter[str] = Counter()
    verdicts: Counter[str] = Counter()
    warm = used()
    with RunLog.open(logs) as log:
        inner = UnitCycle(
            bench,
            limit_shelf(LIMITS),
            log,
            new_run_id=lambda: f"run-{next(numbers):06d}",
            shift_start_utc=BEGIN_UTC,
        )
        cycle = SimulatedLineCycle(inner, line)
        reference = ""
        for number in range(scans):
            clock.wait(SHIFT_S / scans)
            try:
                report = cycle.test_unit(
                    reference or line.waiting(), on_progress=lambda _: None, stop=threading.Event()
                )
            except StationFaultError as error:
                refused[error.happened.split(":")[0][:40]] += 1
                reference = station.check.serials[0] if station.check else ""
                continue
            reference = ""
            shown |= {run.run_id: run.judgement.verdict.value for run in report.runs}
            serials.add(report.final.serial)
            verdicts[report.final.judgement.verdict.value] += 1
            if number == round(WARM_RATIO * scans):
                warm = used()
        end = used()
        return ended(log, logs, scans, serials, shown, verdicts, refused, warm, end)


def ended(
    log: RunLog,
    logs: Path,
    scans: int,
    serials: set[str],
    shown: dict[str, str],
    verdicts: Counter[str],
    refused: Counter[str],
    warm: Use,
    end: Use,
) -> ShiftEnd:
    """Return what the log says of a shift against what was shown."""
    stored: dict[str, str] = {}
    missing = 0
    for serial in serials:
        for run in log.runs_of(serial):
            stored[run.run_id] = run.judgement.verdict.value
            if run.recording is not None and not log.recording_unchanged(run.recording):
                missing += 1
    lost = tuple(name for name, verdict in shown.items() if stored.get(name) != verdict)
    fault = log.chain_fault()
    return ShiftEnd(
        scans,
        verdicts,
        refused,
        log.run_count(),
        len(shown),
        lost,
        None if fault is None else str(fault),
        missing,
        warm,
        end,
    )


def main(arguments: list[str]) -> None:
    """Print how a shift ends."""
    scans = int(arguments[0]) if arguments else 3000
    folder = Path(arguments[1]) if len(arguments) > 1 else Path(tempfile.mkdtemp())
    try:
        end = shift(scans, folder / "logs")
    finally:
        shutil.rmtree(folder / "logs", ignore_errors=True)
    print(f"scans {end.scans}, shown {dict(end.shown)}, refused {dict(end.refused)}")
    print(f"runs shown {end.shown_runs}, stored {end.stored_runs}, lost {len(end.lost)}")
    print(f"chain {end.chain_fault or 'unbroken'}, recordings changed {end.missing_recordings}")
    print(
        f"memory {end.warm.memory_mb:.0f} MB warm, {end.end.memory_mb:.0f} MB at the end "
        f"({100.0 * end.memory_growth_ratio:+.1f} %); "
        f"handles {end.warm.handles} and {end.end.handles}"
    )


if __name__ == "__main__":
    main(sys.argv[1:])
