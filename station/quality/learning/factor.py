"""How many standard deviations wide a limit must be so that it holds for a whole curve at once.

A band of so many standard deviations at each frequency by itself fails far more good units than
any one frequency does. What counts is the largest deviation of a unit over the whole curve. It is
taken here as the largest of m independent normal deviates of some scale: how many and how wide
follows from units that took no part in the centre and spread they are held against.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import scipy.optimize
import scipy.special
import scipy.stats

from station.analysis.arrays import FloatArray

FOLDS = 10
TAIL_FROM = 0.5  # the fit is to the upper half: the limits lie far out in it
LOG_COUNT_RANGE, LOG_SCALE_RANGE = (0.0, 8.0), (-1.5, 1.5)


class Sides(StrEnum):
    """On which sides a limit stands."""

    BOTH = "both"
    LOWER = "lower"
    UPPER = "upper"


@dataclass(frozen=True, slots=True)
class LargestDeviation:
    """The largest deviation of a good unit: that of `count` normal deviates of scale `scale`."""

    sides: Sides
    count: float
    scale: float

    def log_share_below(self, deviation: FloatArray) -> FloatArray:
        """Return the logarithm of the share of good units that stay below deviations."""
        return self.count * log_inside(deviation / self.scale, self.sides)

    def deviation_beyond(self, share: float) -> float:
        """Return the deviation that only a share of good units goes beyond."""
        each = -np.expm1(np.log1p(-share) / self.count)  # the share of one of the deviates
        tail = each / 2.0 if self.sides is Sides.BOTH else each
        return float(self.scale * scipy.special.ndtri(1.0 - tail)) if tail > 1e-12 else np.inf


def centre_and_spread(values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return median and standard deviation of columns, the latter about their means.

    Parameters
    ----------
    values : ndarray, shape (n, m)
        One row for each unit, n >= 2.
    """
    return np.median(values, axis=0), np.std(values, axis=0, ddof=1)


def largest_deviations(
    values: FloatArray, centre: FloatArray, spread: FloatArray, sides: Sides
) -> FloatArray:
    """Return each row's largest deviation over its columns, in spreads, on the sides that count."""
    deviation = (values - centre) / spread
    if sides is Sides.BOTH:
        deviation = np.abs(deviation)
    elif sides is Sides.LOWER:
        deviation = -deviation
    largest: FloatArray = deviation.max(axis=1)
    return largest


def held_out_deviations(values: FloatArray, sides: Sides) -> FloatArray:
    """Return each unit's largest deviation from centre and spread of those in other tenths.

    Parameters
    ----------
    values : ndarray, shape (n, m)
        One row for each unit, finite, every column with a spread.
    sides : Sides
        Which deviations count.

    Returns
    -------
    ndarray, shape (n,)
        In standard deviations.
    """
    rows = np.arange(values.shape[0])
    largest = np.empty(values.shape[0])
    for fold in range(FOLDS):
        out = rows % FOLDS == fold
        centre, spread = centre_and_spread(values[~out])
        largest[out] = largest_deviations(values[out], centre, spread, sides)
    return largest


def fitted_deviation(largest: FloatArray, columns: int, sides: Sides) -> LargestDeviation:
    """Return the distribution of the largest deviation, by the upper half of what was found.

    Parameters
    ----------
    largest : ndarray, shape (n,)
        Largest deviations of units, in standard deviations.
    columns : int
        How many columns a unit has: a single one is one deviate, and only its scale is fitted.
    sides : Sides
        Which deviations count.

    Notes
    -----
    Maximum likelihood, censored below the median. The largest of m independent normal deviates
    has the distribution function F(u) = P(|x| < u)^m; that neighbours on a smooth curve move
    together only makes m smaller than the number of points, since far out P(any beyond u) is
    m P(|x| > u) for a smooth normal process [1]_. A scale above 1 takes up tails that are wider.

    References
    ----------
    .. [1] Leadbetter, Lindgren, Rootzén, Extremes and Related Properties of Random Sequences and
       Processes, 1983, doi:10.1007/978-1-4612-5449-2, chapters 7 and 8, from memory.
    """
    least = float(np.quantile(largest, TAIL_FROM))
    upper = largest[largest > least]
    below = largest.size - upper.size

    def made(parameters: FloatArray) -> LargestDeviation:
        log_count = parameters[1] if columns > 1 else 0.0
        return LargestDeviation(sides, float(np.exp(log_count)), float(np.exp(parameters[0])))

    def cost(parameters: FloatArray) -> float:
        model = made(parameters)
        known = below * model.log_share_below(np.array([least]))[0]
        return -float(known + np.sum(log_density(model, upper)))

    start = [0.0, 1.5] if columns > 1 else [0.0]
    bounds = [LOG_SCALE_RANGE, LOG_COUNT_RANGE][: len(start)]
    found = scipy.optimize.minimize(cost, start, method="L-BFGS-B", bounds=bounds)
    return made(found.x)


def log_density(model: LargestDeviation, deviation: FloatArray) -> FloatArray:
    """Return the logarithm of the density of the largest deviation."""
    scaled = deviation / model.scale
    doubled = np.log(2.0) if model.sides is Sides.BOTH else 0.0
    one = scipy.stats.norm.logpdf(scaled) + doubled - np.log(model.scale)
    density: FloatArray = (
        np.log(model.count) + (model.count - 1.0) * log_inside(scaled, model.sides) + one
    )
    return density


def log_inside(scaled: FloatArray, sides: Sides) -> FloatArray:
    """Return the logarithm of the share of one normal deviate that stays inside."""
    if sides is Sides.BOTH:
        inside: FloatArray = np.log1p(-2.0 * scipy.special.ndtr(-np.abs(scaled)))
    else:
        inside = scipy.special.log_ndtr(scaled)
    return inside


def confidence_factor(units: int, confidence: float) -> float:
    """Return by how much a spread from so few units may be too small, with a stated confidence.

    For a single normal number it makes the limits a tolerance interval: Howe's, whose root of
    1 + 1/n is in the deviations of held-out units already.

    References
    ----------
    .. [1] Howe, J. Am. Stat. Assoc. 64(326), 1969, doi:10.1080/01621459.1969.10500997
    """
    freedom = units - 1
    return float(np.sqrt(freedom / scipy.stats.chi2.ppf(1.0 - confidence, freedom)))
