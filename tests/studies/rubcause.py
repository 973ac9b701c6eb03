"""How often the likely cause of rub and buzz is the true one, and how sure it was.

Simulated units of three models, each with one fault of random severity; only those whose rub and
buzz fails count. The profiles' centres were read from other units of the same simulation, so that
this says how well the simulated causes are told apart, and nothing about real ones. Run by
`python -m tests.studies.rubcause [UNITS]`, a third of a second a unit.
"""

from __future__ import annotations

import itertools
import sys
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from station.analysis.acoustic.rubcause import PROFILES, CauseName, RubCause, cause_of
from station.analysis.acoustic.rubfeatures import RubFeatures, rub_features
from station.analysis.measure import measure
from station.cycle.trials.trial import order_for
from station.judging.files.shelf import shelved
from station.judging.verdicts.judge import judge
from tests.studies.noiseguard import LIMITS, SimulatedSweeps, share_text
from tests.studies.tables import table

PREFIXES: Mapping[str, str] = MappingProxyType({"tarn2": "T2A", "fell60": "F6A", "scree12": "S12A"})
TRUE_CAUSE: Mapping[str, CauseName] = MappingProxyType(
    {
        "coil_rub": "coil_rub",
        "loose_part_buzz": "loose_part",
        "air_leak": "air_leak",
        "panel_arcing": "panel_arcing",
    }
)
FROM_DB_SPL, TO_DB_SPL = 58.0, 82.0
FIRST_SERIAL = 8000
SEED = 41
CONFIDENCE_EDGES = (0.6, 0.8, 0.9, 0.95, 1.0)


@dataclass(frozen=True, slots=True)
class Named:
    """One failing unit: what was planted, what its bursts look like, what was named."""

    model: str
    fault: str
    features: RubFeatures
    found: RubCause

    @property
    def right(self) -> bool:
        """Whether the likely cause is the planted one."""
        return self.found.name == TRUE_CAUSE[self.fault]


def named_units(count: int, models: Sequence[str] = tuple(PREFIXES)) -> Iterator[Named]:
    """Yield so many units of each model and fault, without those whose rub and buzz passes."""
    for model in models:
        taken = shelved(LIMITS / f"{model}.toml")
        for fault in TRUE_CAUSE:
            if fault == "panel_arcing" and model != "fell60":
                continue
            for number in range(count):
                severity = np.random.default_rng([SEED, number]).uniform(FROM_DB_SPL, TO_DB_SPL)
                order = order_for(f"{PREFIXES[model]}{FIRST_SERIAL + number:05d}", taken)
                recording = SimulatedSweeps(order, {fault: float(severity)}).recording(1)
                judgement = judge(measure(recording, order.plan), taken.limits)
                if "rub" in {cause.reading for cause in judgement.causes}:
                    features = rub_features(recording, order.plan)
                    yield Named(model, fault, features, cause_of(features))


def confusion_table(units: Sequence[Named]) -> str:
    """Return what was named for each planted fault."""
    heads = [*PROFILES, None]
    rows = []
    for model, fault in sorted({(unit.model, unit.fault) for unit in units}):
        found = Counter(
            unit.found.name for unit in units if (unit.model, unit.fault) == (model, fault)
        )
        rows.append([model, fault, *(str(found[head]) for head in heads)])
    return table("named for each planted fault", ["model", "planted", *PROFILES, "unknown"], rows)


def confidence_table(units: Sequence[Named]) -> str:
    """Return how often a stated chance was right."""
    named = [unit for unit in units if unit.found.name is not None]
    rows = []
    for low, high in itertools.pairwise(CONFIDENCE_EDGES):
        stated = [
            (unit, chance)
            for unit in named
            if low <= (chance := max(unit.found.probability.values())) < high or high == chance
        ]
        if stated:
            right = sum(unit.right for unit, _ in stated)
            mean = np.mean([chance for _, chance in stated])
            rows.append([f"{low:.0%} to {high:.0%}", f"{mean:.1%}", share_text(right, len(stated))])
    return table("stated chance", ["stated", "mean", "right % (95 % interval)"], rows)


def feature_table(units: Sequence[Named]) -> str:
    """Return mean and spread of the features beside the profiles."""
    rows = []
    for fault, cause in TRUE_CAUSE.items():
        values = np.array([unit.features.values() for unit in units if unit.fault == fault])
        if not values.size:
            continue
        for place, name in enumerate(RubFeatures.names()):
            if name in PROFILES[cause]:
                centre, spread = PROFILES[cause][name]
                mean, deviation = values[:, place].mean(), values[:, place].std()
                seen = [f"{mean:.2f}", f"{deviation:.2f}"]
                rows.append([fault, name, *seen, f"{centre:g}", f"{spread:g}"])
    head = ["planted", "feature", "mean", "deviation", "profile's centre", "spread"]
    return table("features", head, rows)


def main() -> None:
    """Print the tables."""
    units = list(named_units(int(sys.argv[1]) if len(sys.argv) > 1 else 40))
    print(confusion_table(units))
    print(confidence_table(units))
    print(feature_table(units))


if __name__ == "__main__":
    main()
