"""How well the faulty part is named end to end: sweep, analysis, verdict and diagnosis.

    ./.run python -m tests.studies.faultyunits [UNITS] [FIRST]

Simulated units of both passive models, one planted fault in each; the simulation's speakers bend
with level, leak and radiate, which the netlists of the limit files do not know. Prints who was
named instead of whom. FIRST is where in the list of units to begin, to spread it over processes.
"""

from __future__ import annotations

import itertools
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from station.cycle.stored.suspicion import Suspicion, parts_of
from station.cycle.trials.trial import judged, order_for, played
from station.diagnosis.named.suspect import Diagnosis, Finding
from station.judging.files.shelf import ShelvedLimits, shelved
from station.judging.verdicts.verdict import Verdict
from station.study.unitline import ignore_meter, simulated_bench

LIMITS = Path(__file__).parents[2] / "limits"
UNITS, FIRST_SERIAL, SEED, FEW = 300, 20_000, 9, 3


@dataclass(frozen=True)
class Planted:
    """A fault, its severity's range, and which parts are right to name.

    More than one where they cannot be told apart even in principle: a lead and what it leads to.
    """

    name: str
    parts: frozenset[str]
    low: float = 1.0
    high: float = 1.0


def planted(name: str, parts: str, low: float = 1.0, high: float | None = None) -> Planted:
    return Planted(name, frozenset(parts.split("|")), low, low if high is None else high)


COMMON = (
    planted("wrong_capacitor", "C2", 0.15, 0.5),
    planted("wrong_capacitor", "C2", -0.4, -0.15),
    planted("drifted_coil", "L2", 0.15, 0.5),
    planted("drifted_coil", "L2", -0.4, -0.15),
    planted("drifted_resistor", "R1", 0.2, 0.6),
    planted("drifted_woofer_capacitor", "C1", 0.15, 0.5),
    planted("drifted_woofer_capacitor", "C1", -0.4, -0.15),
    planted("drifted_woofer_coil", "L1", 0.15, 0.5),
    planted("open_crossover_part", "C1", 1),
    planted("open_crossover_part", "L2", 2),
    planted("open_crossover_part", "C2", 3),
    planted("open_crossover_part", "L1", 4),
    planted("shorted_crossover_part", "C1", 1),
    planted("shorted_crossover_part", "L2", 2),
    planted("shorted_crossover_part", "C2", 3),
    planted("shorted_crossover_part", "L1", 4),
    planted("swapped_parts", "C1 and C2"),
    planted("dead_woofer", "woofer"),
    planted("reversed_woofer", "woofer"),
    planted("shorted_turn", "woofer", 0.05, 0.2),
    planted("weak_magnet", "woofer", 0.1, 0.3),
    planted("stiff_surround", "woofer", 0.2, 0.6),
    planted("coil_rub", "woofer", 60, 72),
    planted("loose_part_buzz", "loose part", 60, 72),
    planted("air_leak", "woofer's box", 60, 68),
    planted("wrong_driver", "woofer", 1),
    planted("wrong_driver", "woofer", 2),
    planted("torn_surround", "woofer", 0.1, 0.3),
    planted("cracked_magnet", "woofer", 0.1, 0.25),
)
OF_MODEL = {
    "tarn2": (*COMMON, planted("dead_tweeter", "tweeter"), planted("reversed_tweeter", "tweeter")),
    "fell60": (
        *COMMON,
        planted("dead_panel", "panel|T1"),  # the secondary's lead is open: both ends of it
        planted("missing_bias", "panel"),
        planted("low_bias", "panel", 0.15, 0.5),
        planted("panel_arcing", "panel", 62, 74),
        planted("reversed_panel", "panel"),
    ),
}
PREFIX = {"tarn2": "T2A", "fell60": "F6A"}


@dataclass
class Count:
    """What came of the units of one kind."""

    units: int = 0
    failed: int = 0
    detected: int = 0
    first: int = 0
    few: int = 0
    not_one: int = 0  # said to be more than one part
    confusion: Counter[tuple[str, str]] = field(default_factory=Counter)

    def add(self, fault: Planted, verdict: Verdict, diagnosis: Diagnosis) -> None:
        """Count one unit."""
        self.units += 1
        self.failed += verdict is not Verdict.PASS
        names = [
            f"{one.part} and {one.beside}" if one.beside else one.part for one in diagnosis.suspects
        ]
        suspected = diagnosis.first is not None
        self.detected += suspected
        self.not_one += diagnosis.finding is Finding.NOT_ONE_PART
        self.first += suspected and names[0] in fault.parts
        self.few += suspected and bool(fault.parts & set(names[:FEW]))
        self.confusion[fault.name, names[0] if suspected else "nobody"] += 1


def units_in_turn() -> Iterator[tuple[str, str, Planted, float]]:
    """Yield model, serial number, fault and severity, every fault of both models in turn."""
    rng = np.random.default_rng(SEED)
    kinds = [(model, fault) for model, faults in OF_MODEL.items() for fault in faults]
    for number in itertools.count():
        model, fault = kinds[number % len(kinds)]
        severity = float(rng.uniform(fault.low, fault.high))
        yield model, f"{PREFIX[model]}{FIRST_SERIAL + number:05d}", fault, severity


def outcome_of(
    limits: ShelvedLimits, serial: str, faults: dict[str, float], suspicion: Suspicion
) -> tuple[Verdict, Diagnosis]:
    """Return the verdict on a unit's one sweep, and who is suspected."""
    bench, order = simulated_bench(1, faults), order_for(serial, limits)
    bench.fixture.secure(serial, limits.limits.model.name)
    recording = played(bench, order, on_meter=ignore_meter, stop=threading.Event())
    trial = judged(recording, order)
    diagnosis = suspicion.of(parts_of(limits.limits), trial.readings, trial.judgement)
    return trial.judgement.verdict, diagnosis


def main() -> None:
    """Print the rates and who was named instead."""
    units = int(sys.argv[1]) if len(sys.argv) > 1 else UNITS
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    limits = {model: shelved(LIMITS / f"{model}.toml") for model in OF_MODEL}
    suspicion, count = Suspicion(), Count()
    for model, serial, fault, severity in itertools.islice(units_in_turn(), first, first + units):
        verdict, diagnosis = outcome_of(limits[model], serial, {fault.name: severity}, suspicion)
        count.add(fault, verdict, diagnosis)
    print(
        f"{count.units} units: {count.failed} not passed, {count.detected} with a suspect; right "
        f"part first {count.first / count.units:.1%}, in the first three "
        f"{count.few / count.units:.1%} of all; taken for two faults {count.not_one}"
    )
    for (fault_name, named), number in sorted(count.confusion.items()):
        print(f"    {fault_name}: {named} {number}")


if __name__ == "__main__":
    main()
