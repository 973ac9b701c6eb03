"""A simulated line whose lid is opened at chosen instants of a sweep."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from station.cycle.bench.bench import Bench
from station.cycle.unit.unitcycle import UnitCycle
from station.judging.files.shelf import limit_shelf
from station.judging.verdicts.verdict import Verdict
from station.records.log.log import RunLog
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station
from tests.cycle.line import BEGIN_UTC, LIMITS, SteadyClock, run_unit

SERIAL = "T2A00101"


@dataclass(frozen=True)
class LidLine:
    """A line with its twins at hand."""

    cycle: UnitCycle
    twin: SimulatedBench
    log: RunLog


@dataclass(frozen=True)
class Opening:
    """What came of one opening of the lid."""

    verdict: Verdict
    happened: str
    late_blocks: int  # blocks with sound in them that were handed out after the lid was open
    ends_in_silence: bool
    largest_step_ratio: float  # between two samples, in the last block with sound


@contextmanager
def lid_line(logs: Path) -> Iterator[LidLine]:
    """Hold a line."""
    station, text = simulated_station()
    clock = SteadyClock()
    twin = SimulatedBench(station, seed=7, faults_of={}, paced=False, clock=clock)
    bench = Bench(station, text, twin.audio, twin.fixture, clock, True, {"station": "test"})
    numbers = iter(range(1_000_000))
    with RunLog.open(logs) as log:
        cycle = UnitCycle(
            bench,
            limit_shelf(LIMITS),
            log,
            new_run_id=lambda: f"run-{next(numbers):06d}",
            shift_start_utc=BEGIN_UTC,
        )
        yield LidLine(cycle, twin, log)


def opened(line: LidLine, at_s: float, closed_s: float | None = None) -> Opening:
    """Test a unit, open the lid at an instant of its sweep, and say what came of it."""
    fixture = line.twin.fixture
    fixture.lid_open = False
    fixture.lid_opens_s, fixture.lid_closes_s = at_s, closed_s
    run = run_unit(line.cycle, SERIAL).final
    block = line.twin.audio._station.audio.block_frames
    out = line.twin.audio.went_out
    opened_in = int(at_s * line.twin.audio.rate_hz) // block
    heard = out.reshape(-1, block)[opened_in + 1 :]
    with_sound = np.flatnonzero(np.any(heard != 0.0, axis=1))
    fading = heard[with_sound[-1]] if with_sound.size else np.zeros(1)
    return Opening(
        run.judgement.verdict,
        run.judgement.causes[0].happened,
        int(with_sound.size),
        not np.any(heard[1:]) and (heard.size == 0 or heard[0, -1] == 0.0),
        float(np.max(np.abs(np.diff(fading)), initial=0.0)),
    )
