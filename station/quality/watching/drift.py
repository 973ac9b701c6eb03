"""Did the product move, or the station: told by a reference unit, which does not."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy.stats import t as t_distribution

from station.analysis.arrays import FloatArray

CONFIDENCE_RATIO = 0.99  # an alarm is told apart once, so it may be surer than 95 %


class Moved(StrEnum):
    """What moved."""

    PRODUCT = "product"
    STATION = "station"
    BOTH = "both"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Shift:
    """A difference of means, after less before, and half the width of its interval."""

    moved: float
    reach: float

    @property
    def certain(self) -> bool:
        """Whether the interval leaves out zero."""
        return abs(self.moved) > self.reach


@dataclass(frozen=True, slots=True)
class Drift:
    """How much all readings moved, how much the reference unit's did, and the rest."""

    readings: Shift
    station: Shift | None  # None without enough runs of the reference unit
    product: Shift | None
    moved: Moved


def shift_between(before: FloatArray, after: FloatArray) -> Shift | None:
    """Return how a mean moved, None of fewer than two values before, one after, or three in all.

    The spread is pooled: what is measured later varies as what was measured before.
    """
    df = before.size + after.size - 2
    if before.size < 2 or after.size < 1 or df < 1:
        return None
    squares = np.sum((before - before.mean()) ** 2) + np.sum((after - after.mean()) ** 2)
    error = math.sqrt(float(squares) / df * (1.0 / before.size + 1.0 / after.size))
    reach = float(t_distribution.ppf(0.5 + 0.5 * CONFIDENCE_RATIO, df)) * error
    return Shift(float(after.mean() - before.mean()), reach)


def drift_between(
    before: FloatArray,
    after: FloatArray,
    reference_before: FloatArray,
    reference_after: FloatArray,
) -> Drift | None:
    """Return what moved between two spans of time; None where production itself is too short.

    The product's own shift is what is left when the reference unit's is taken off; the reaches
    add as squares, because units and reference unit vary independently.
    """
    readings = shift_between(before, after)
    if readings is None:
        return None
    station = shift_between(reference_before, reference_after)
    if station is None:
        return Drift(readings, None, None, Moved.UNKNOWN)
    product = Shift(readings.moved - station.moved, math.hypot(readings.reach, station.reach))
    moved = {
        (True, False): Moved.PRODUCT,
        (False, True): Moved.STATION,
        (True, True): Moved.BOTH,
        (False, False): Moved.UNKNOWN,
    }[product.certain, station.certain]
    return Drift(readings, station, product, moved)
