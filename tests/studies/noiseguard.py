"""What the noise guard costs and saves: good and rubbing units with a noise in every sweep.

The bands of rub and distortion are first moved to where 0.1 % of good units fail without any
noise (a Gumbel law fitted to their worst margins). Then every sweep of every unit hears one noise,
60 to 100 dB SPL peak, at any instant, from any place, and the line's own rule of repeats decides.
The same units hear every kind of noise. Run by `python -m tests.studies.noiseguard [UNITS]`, one
to two seconds a unit and table row on one core.
"""

from __future__ import annotations

import sys
import threading
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy import stats

from station.analysis.measure import measure
from station.analysis.recording import Recording
from station.analysis.signals.sweep import sweep_voltage
from station.cycle.bench.bench import recording_of
from station.cycle.trials.trial import Order, Trial, judged, order_for, trials
from station.hardware.protocols.clock import SystemClock
from station.judging.files.shelf import ShelvedLimits, shelved
from station.judging.tables.tables import BandTable
from station.judging.verdicts.judge import judge
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station
from tests.studies.roomsounds import (
    SYNTHESISED,
    Sound,
    place,
    recorded_sounds,
    with_noise,
    without_ambient,
)
from tests.studies.tables import table

LIMITS = Path(__file__).parent.parent.parent / "limits"
FALSE_REJECTS_RATIO = 1e-3
CONFIDENCE = 0.95
SEED = 31
FIRST_GOOD, FIRST_RUBBING, FIRST_LEARNT = 5000, 6000, 7000
HEARING = ("rub", "thd")
Faults = Mapping[str, float]
RUBBING: tuple[Faults, ...] = (
    {"coil_rub": 56.0},  # found in some units only
    {"coil_rub": 58.0},
    {"coil_rub": 66.0},
    {"loose_part_buzz": 58.0},
)


@dataclass(frozen=True, slots=True)
class Ended:
    """How often units ended with each verdict, and how many sweeps they took."""

    verdicts: Counter[str]
    sweeps: int

    @property
    def count(self) -> int:
        """Number of units."""
        return self.verdicts.total()


class SimulatedSweeps:
    """Sweeps of one unit on the simulated station, each made once."""

    def __init__(self, order: Order, faults: Faults) -> None:
        station, _ = simulated_station()
        self._station = station
        self._order = order
        self._bench = SimulatedBench(
            station, seed=SEED, faults_of=lambda _: faults, paced=False, clock=SystemClock()
        )
        self._known: list[Recording] = []

    def recording(self, number: int) -> Recording:
        """Return the recording of one attempt, counted from 1."""
        while len(self._known) < number:
            self._known.append(self._played())
        return self._known[number - 1]

    def _played(self) -> Recording:
        if self._bench.fixture.serial is None:
            model = self._order.shelved.limits.model.name
            self._bench.fixture.secure(self._order.serial, model)
        output = sweep_voltage(self._order.sweep) / self._station.audio.output_full_scale_v
        capture = self._bench.audio.play_and_record(
            output, on_meter=lambda _: None, stop=threading.Event()
        )
        return recording_of(capture, self._station, self._order.sweep)


def tightened(taken: ShelvedLimits, prefix: str, units: int) -> tuple[ShelvedLimits, float]:
    """Return limits that fail 0.1 % of good units by rub or distortion, and the move in dB."""
    worst = []
    for number in range(units):
        order = order_for(f"{prefix}{FIRST_LEARNT + number:05d}", taken)
        recording = SimulatedSweeps(order, {}).recording(1)
        margins = judge(measure(recording, order.plan), taken.limits).margins
        worst.append(min(margins[name].value for name in HEARING))
    location, scale = stats.gumbel_l.fit(worst)
    move_db = float(stats.gumbel_l.ppf(FALSE_REJECTS_RATIO, location, scale))
    bands = tuple(moved(band, move_db) for band in taken.limits.bands)
    return replace(taken, limits=taken.limits.model_copy(update={"bands": bands})), move_db


def moved(band: BandTable, move_db: float) -> BandTable:
    """Return a band with its upper limit lower by so much, if it is one that hears noise."""
    if band.reading not in HEARING:
        return band
    points = tuple((hz, low, high - move_db) for hz, low, high in band.points)
    return band.model_copy(update={"points": points})


def ended(
    units: Sequence[tuple[Order, SimulatedSweeps]],
    sound: Sound | None,
    *,
    ambient: bool,
    seed: int = SEED,
) -> Ended:
    """Return how units end when every sweep hears a sound, or none does."""
    verdicts: Counter[str] = Counter()
    sweeps = 0
    for number, (order, played) in enumerate(units):
        *_, last = (
            tried := list(noisy_trials(order, played, sound, (seed, number), ambient=ambient))
        )
        verdicts[last.judgement.verdict.value] += 1
        sweeps += len(tried)
    return Ended(verdicts, sweeps)


def noisy_trials(
    order: Order,
    played: SimulatedSweeps,
    sound: Sound | None,
    seed: tuple[int, int],
    *,
    ambient: bool,
) -> Iterator[Trial]:
    """Yield the trials of one unit by the line's rule."""
    rng = np.random.default_rng(seed)
    earlier: list[Trial] = []

    def trial(number: int) -> Trial:
        recording = played.recording(number)
        if sound is not None:
            recording = with_noise(recording, sound(rng), place(rng), rng)
        if not ambient:
            recording = without_ambient(recording)
        earlier.append(judged(recording, order, earlier))
        return earlier[-1]

    return trials(order.shelved, trial, lambda _number, _reason: None)


def units_of(
    taken: ShelvedLimits, prefix: str, first: int, count: int, faults: Faults
) -> list[tuple[Order, SimulatedSweeps]]:
    """Return units with their sweeps."""
    orders = [order_for(f"{prefix}{first + number:05d}", taken) for number in range(count)]
    return [(order, SimulatedSweeps(order, faults)) for order in orders]


def interval(hits: int, count: int) -> tuple[float, float]:
    """Return the Clopper-Pearson interval of a share (Biometrika 26(4), 1934)."""
    low, high = stats.binomtest(hits, count).proportion_ci(CONFIDENCE, method="exact")
    return float(low), float(high)


def share_text(hits: int, count: int) -> str:
    """Return a share with its interval, in percent."""
    low, high = interval(hits, count)
    return f"{100.0 * hits / count:.1f} ({100.0 * low:.1f} to {100.0 * high:.1f})"


def row(name: str, found: Ended) -> list[str]:
    """Return how units ended as a row."""
    verdicts = found.verdicts
    return [
        name,
        str(found.count),
        share_text(verdicts["fail"], found.count),
        share_text(verdicts["pass"], found.count),
        share_text(verdicts["void"], found.count),
        f"{found.sweeps / found.count:.2f}",
    ]


HEAD = ("noise in every sweep", "units", "fail %", "pass %", "void %", "sweeps")


def total(parts: Sequence[Ended]) -> Ended:
    """Return all units of several rows together."""
    verdicts = sum((part.verdicts for part in parts), Counter[str]())
    return Ended(verdicts, sum(part.sweeps for part in parts))


def tables_of(model: str, prefix: str, count: int) -> Iterator[str]:
    """Yield the tables of one model."""
    taken, move_db = tightened(shelved(LIMITS / f"{model}.toml"), prefix, max(count, 60))
    sounds = {**SYNTHESISED, **recorded_sounds()}
    head = f"bands of rub and distortion tightened by {move_db:.1f} dB"
    for ambient in (True, False):
        kind = "with" if ambient else "without"
        good = units_of(taken, prefix, FIRST_GOOD, count, {})
        rows = [row("none", ended(good, None, ambient=ambient))]
        parts = []
        for seed, (name, sound) in enumerate(sounds.items(), SEED):
            parts.append(ended(good, sound, ambient=ambient, seed=seed))
            rows.append(row(name, parts[-1]))
        rows.append(row("all kinds", total(parts)))
        yield table(f"{model}, good, {kind} ambient microphone; {head}", HEAD, rows)
        for faults in RUBBING:
            rubbing = units_of(taken, prefix, FIRST_RUBBING, max(count // 2, 1), faults)
            rows = [row("none", ended(rubbing, None, ambient=ambient))]
            parts = [
                ended(rubbing, sound, ambient=ambient, seed=seed)
                for seed, sound in enumerate(sounds.values(), SEED)
            ]
            rows.append(row("all kinds", total(parts)))
            named = ", ".join(f"{name} {level:g} dB SPL" for name, level in faults.items())
            yield table(f"{model}, {named}, {kind} ambient microphone", HEAD, rows)


def main() -> None:
    """Print the tables."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    models = sys.argv[2:] or ["tarn2"]
    prefixes = {"tarn2": "T2A", "fell60": "F6A", "scree12": "S12A"}
    for model in models:
        for text in tables_of(model, prefixes[model], count):
            print(text, flush=True)


if __name__ == "__main__":
    main()
