"""One unit of a study through the line's own test, on simulated hardware, with nothing stored."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import numpy as np
import scipy.fft

from station.cycle.bench.bench import Bench, check_bench_fits
from station.cycle.ready.climate import check_temperature
from station.cycle.trials.trial import Order, Trial, judged, order_for, played, trials
from station.errors import RefusedInputError, StationError
from station.hardware.protocols.audio import Meter
from station.hardware.protocols.clock import SystemClock
from station.judging.files.planning import sweep_of
from station.judging.files.shelf import ShelvedLimits, shelved
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station
from station.simulation.bench.thermometer import SimulatedThermometer
from station.study.jobs import BANG, Job
from station.study.outcome import Cost, End, Outcome

CHANNELS = 4
FLOOR_ROUNDS = 5

CpuClock = Callable[[], float]


@dataclass(frozen=True, slots=True)
class StudiedLimits:
    """The limit file under study as it was when the study began, and the production's seed."""

    path: Path
    sha256: str
    seed: int


def sha256_of(text: str) -> str:
    """Return the hash of a limit file's text."""
    return hashlib.sha256(text.encode()).hexdigest()


def batch_outcomes(
    studied: StudiedLimits, jobs: Sequence[Job], cpu_s: CpuClock
) -> tuple[Outcome, ...]:
    """Test some units, one after another; runs in a process of its own.

    Raises
    ------
    RefusedInputError
        If the limit file changed since the study began.
    """
    taken = shelved(studied.path)
    if sha256_of(taken.text) != studied.sha256:
        raise RefusedInputError(
            f"{studied.path} changed while it was studied.", "Start the study again."
        )
    floor_s = transforms_s(taken, cpu_s)
    return tuple(unit_outcome(taken, studied.seed, job, floor_s, cpu_s) for job in jobs)


def unit_outcome(
    taken: ShelvedLimits, seed: int, job: Job, floor_s: float, cpu_s: CpuClock
) -> Outcome:
    """Test one unit by the line's rule of repeats and return how it ended."""
    order = order_for(job.serial, taken)
    bench = simulated_bench(seed, job.faults)
    check_bench_fits(bench.station, order.sweep, order.plan, order.steps)
    timed = TimedTrials(bench, order, cpu_s)
    end, told = End.REFUSED, ""
    causes: tuple[str, ...] = ("station",)
    try:
        bench.fixture.secure(job.serial, taken.limits.model.name)
        check_temperature(bench.thermometer, taken.limits)
        *_, last = trials(taken, timed.trial, ignore_repeat)
        end = End(last.judgement.verdict.value)
        causes = tuple(cause.reading for cause in last.judgement.causes)
        told = last.judgement.next_step
    except StationError as error:
        told = f"{error.happened} {error.remedy}"
    cost = Cost(timed.simulating_s, timed.judging_s, floor_s * timed.sweeps)
    return Outcome(job.key, job.serial, end, timed.sweeps, job.faults.get(BANG), causes, told, cost)


class TimedTrials:
    """Carries out trials of one unit and adds up what they cost."""

    def __init__(self, bench: Bench, order: Order, cpu_s: CpuClock) -> None:
        self.simulating_s = 0.0
        self.judging_s = 0.0
        self.sweeps = 0
        self._bench = bench
        self._order = order
        self._cpu_s = cpu_s
        self._earlier: list[Trial] = []

    def trial(self, _number: int) -> Trial:
        """Play, record and judge once."""
        began_s = self._cpu_s()
        recording = played(self._bench, self._order, on_meter=ignore_meter, stop=threading.Event())
        recorded_s = self._cpu_s()
        trial = judged(recording, self._order, self._earlier)
        self._earlier.append(trial)
        self.simulating_s += recorded_s - began_s
        self.judging_s += self._cpu_s() - recorded_s
        self.sweeps += 1
        return trial


def simulated_bench(seed: int, faults: Mapping[str, float]) -> Bench:
    """Return a bench on which every unit has these faults, as new: its noise is the first run's."""
    station, text = simulated_station()
    clock = SystemClock()
    twin = SimulatedBench(station, seed=seed, faults_of=lambda _: faults, paced=False, clock=clock)
    thermometer = SimulatedThermometer(twin.fixture)
    return Bench(station, text, twin.audio, twin.fixture, clock, True, {}, thermometer)


def transforms_s(taken: ShelvedLimits, cpu_s: CpuClock) -> float:
    """Return the processor time of four real transforms as long as one recording.

    Padded to a length that transforms fast, as everybody would: a prime length takes ten times
    as long and would flatter whatever is measured by it.
    """
    n_samples = scipy.fft.next_fast_len(sweep_of(taken.limits).n_samples, real=True)
    channels = np.random.default_rng(0).standard_normal((CHANNELS, n_samples))
    times_s = []
    for _ in range(FLOOR_ROUNDS):
        began_s = cpu_s()
        for channel in channels:
            scipy.fft.rfft(channel)
        times_s.append(cpu_s() - began_s)
    return median(times_s)


def ignore_meter(_meter: Meter) -> None:
    """Show no level."""


def ignore_repeat(_number: int, _reason: str) -> None:
    """Tell nobody that a sweep is repeated."""
