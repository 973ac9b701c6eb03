"""Which fault most likely makes the sound above the tenth harmonic."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

from station.analysis.acoustic.rubfeatures import RubFeatures, rub_features
from station.analysis.plan import Plan
from station.analysis.recording import Recording

CauseName = Literal["coil_rub", "loose_part", "air_leak", "panel_arcing"]

# What each cause looks like, (centre, spread) per feature. The centres are what simulated units
# of three models show, and follow from how each sound is made; the spreads are wider than theirs,
# since real faults differ more than simulated ones. tests/studies/rubcause.py prints both.
PROFILES: Mapping[CauseName, Mapping[str, tuple[float, float]]] = {
    # The coil touches where the excursion is largest, on one side or on both.
    "coil_rub": {
        "excursion_db": (-2.5, 3.0),
        "span_octaves": (0.33, 0.2),
        "once_ratio": (0.15, 0.2),
        "twice_ratio": (0.35, 0.2),
        "ringing_ratio": (0.40, 0.2),
        "shrill_db": (-1.6, 1.2),
    },
    # A part with a resonance of its own strikes once a cycle, in a narrow span of frequency.
    "loose_part": {
        "excursion_db": (-18.0, 6.0),
        "span_octaves": (0.12, 0.1),
        "once_ratio": (0.73, 0.15),
        "twice_ratio": (0.3, 0.3),
        "ringing_ratio": (0.30, 0.2),
        "shrill_db": (-1.5, 1.2),
    },
    # Air hisses with the box's pressure, both ways, duller than anything that strikes.
    "air_leak": {
        "excursion_db": (-4.0, 3.0),
        "span_octaves": (0.33, 0.2),
        "once_ratio": (0.2, 0.15),
        "twice_ratio": (0.65, 0.12),
        "ringing_ratio": (0.59, 0.15),
        "shrill_db": (-5.2, 1.2),
    },
    # Arcs follow the panel's voltage, high up, where no cone moves; each is over at once.
    "panel_arcing": {
        "excursion_db": (-37.0, 6.0),
        "span_octaves": (0.3, 0.25),
        "once_ratio": (0.35, 0.25),
        "twice_ratio": (-0.1, 0.4),
        "ringing_ratio": (0.01, 0.06),
        "shrill_db": (-0.3, 0.8),
    },
}
# The features are not independent, as the plain product of their chances would have it.
INDEPENDENT_SHARE = 0.5
FURTHEST_SQUARED = 18.5  # beyond it lies 0.5 % of a normal distribution of six features
LEAST_PROBABILITY = 0.6


@dataclass(frozen=True, slots=True)
class RubCause:
    """The likely cause of rub and buzz; `name` is None where the sound resembles no known one.

    `probability` is the chance of each cause if it is one of these and nothing else.
    """

    name: CauseName | None
    probability: Mapping[CauseName, float]


def rub_cause(recording: Recording, plan: Plan) -> RubCause:
    """Return what most likely rubs, buzzes, leaks or arcs in a unit.

    Parameters
    ----------
    recording : Recording
        Of a unit whose rub and buzz is too loud.
    plan : Plan
        With a rub part.

    Returns
    -------
    RubCause
        None as the name if no cause has a chance of 60 %, or if the sound lies outside what 99.5 %
        of the most likely one would show.

    Raises
    ------
    NoSignalError
        If nothing stands above the room's noise.
    ValueError
        If the plan does not ask for rub and buzz.

    References
    ----------
    .. [1] Bayes' rule on independent normal features, tempered; rates of error on simulated units
       are printed by tests/studies/rubcause.py. No real unit was measured.
    """
    return cause_of(rub_features(recording, plan))


def cause_of(features: RubFeatures) -> RubCause:
    """Return the likely cause of features."""
    squared, weight = {}, {}
    for cause, profile in PROFILES.items():
        away = [
            (getattr(features, name) - centre) / spread
            for name, (centre, spread) in profile.items()
        ]
        spreads = sum(math.log(spread) for _, spread in profile.values())
        squared[cause] = float(np.sum(np.square(away)))
        weight[cause] = -INDEPENDENT_SHARE * (0.5 * squared[cause] + spreads)
    highest = max(weight.values())
    chances = {cause: math.exp(value - highest) for cause, value in weight.items()}
    total = sum(chances.values())
    probability = {cause: chance / total for cause, chance in chances.items()}
    likely = max(probability, key=lambda cause: probability[cause])
    known = probability[likely] >= LEAST_PROBABILITY and squared[likely] <= FURTHEST_SQUARED
    return RubCause(likely if known else None, MappingProxyType(probability))
