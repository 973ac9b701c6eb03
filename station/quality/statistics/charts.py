"""Control charts: limits from a baseline, every later point against them.

Charts of single values, of means and ranges of subgroups, and of exponentially weighted means.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray, read_only
from station.quality.statistics.chartfactors import d2, mean_range_factors

SIGMAS = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """Points with their centre and limits, all of shape (n,), in the values' unit.

    `sigma` is the standard deviation of a point where nothing changes, which run rules count in.
    """

    points: FloatArray
    centre: FloatArray
    lower: FloatArray
    upper: FloatArray
    sigma: FloatArray

    def __post_init__(self) -> None:
        for name in ("points", "centre", "lower", "upper", "sigma"):
            object.__setattr__(self, name, read_only(getattr(self, name)))

    @property
    def beyond(self) -> FloatArray:
        """How many sigma each point lies above (+) or below (-) its centre."""
        away: FloatArray = (self.points - self.centre) / self.sigma
        return away


@dataclass(frozen=True, slots=True)
class Baseline:
    """What a process did when its limits were set: centre, and spread within subgroups."""

    centre: float
    sigma: float
    count: int


def flat_chart(points: FloatArray, centre: float, sigma: float) -> Chart:
    """Return a chart whose limits are the same everywhere, three sigma from the centre."""
    one = np.ones(points.shape)
    return Chart(
        points,
        centre * one,
        (centre - SIGMAS * sigma) * one,
        (centre + SIGMAS * sigma) * one,
        sigma * one,
    )


def individuals_baseline(values: FloatArray) -> Baseline:
    """Return centre and sigma of single values in the order they came.

    Sigma is the mean moving range of two over d2 (ISO 7870-2), so that a slow drift within the
    baseline does not widen it.

    Raises
    ------
    ValueError
        If there are fewer than two values.
    """
    if values.size < 2:
        raise ValueError("need two values or more")
    mean_range = float(np.mean(np.abs(np.diff(values))))
    return Baseline(float(np.mean(values)), mean_range / d2(2), values.size)


def individuals_chart(values: FloatArray, baseline: Baseline) -> Chart:
    """Return the chart of single values."""
    return flat_chart(values, baseline.centre, baseline.sigma)


def subgroups(values: FloatArray, size: int) -> FloatArray:
    """Return consecutive values as subgroups, shape (k, size); a rest too small is left out."""
    k = values.size // size
    return values[: k * size].reshape(k, size)


def subgroup_baseline(groups: FloatArray) -> Baseline:
    """Return grand mean and sigma of subgroups, shape (k, size): mean range over d2."""
    ranges = groups.max(axis=1) - groups.min(axis=1)
    return Baseline(
        float(np.mean(groups)), float(np.mean(ranges)) / d2(groups.shape[1]), groups.shape[0]
    )


def mean_chart(groups: FloatArray, baseline: Baseline) -> Chart:
    """Return the chart of the subgroups' means."""
    size = groups.shape[1]
    return flat_chart(groups.mean(axis=1), baseline.centre, baseline.sigma / math.sqrt(size))


def range_chart(groups: FloatArray, baseline: Baseline) -> Chart:
    """Return the chart of the subgroups' ranges; its limits are not symmetrical."""
    size = groups.shape[1]
    _, low, high = mean_range_factors(size)
    mean_range = baseline.sigma * d2(size)
    points = groups.max(axis=1) - groups.min(axis=1)
    one = np.ones(points.shape)
    upper = high * mean_range
    return Chart(
        points,
        mean_range * one,
        low * mean_range * one,
        upper * one,
        (upper - mean_range) / SIGMAS * one,
    )


def weighted_chart(
    points: FloatArray, centre: float, sigma: float, weight: float, width: float
) -> Chart:
    """Return the chart of exponentially weighted means.

    Parameters
    ----------
    points : ndarray, shape (n,)
        Values or means of subgroups, in the order they came.
    centre, sigma : float
        Mean and standard deviation of a point where nothing changes.
    weight : float
        Of the newest point, above 0 and at most 1.
    width : float
        Distance of the limits from the centre, in the weighted mean's own standard deviations,
        which grow towards σ √(λ / (2 − λ)).

    References
    ----------
    .. [1] Roberts, Technometrics 1(3), 1959, pp. 239-250
    .. [2] Lucas and Saccucci, Technometrics 32(1), 1990, pp. 1-12
    """
    if not 0.0 < weight <= 1.0:
        raise ValueError(f"need a weight above 0 and at most 1; got {weight}")
    means, last = np.empty(points.shape), centre
    for index, point in enumerate(points):
        last = weight * float(point) + (1.0 - weight) * last
        means[index] = last
    steps = np.arange(1, points.size + 1)
    spread = sigma * np.sqrt(weight / (2.0 - weight) * (1.0 - (1.0 - weight) ** (2 * steps)))
    middle = np.full(points.shape, centre)
    return Chart(means, middle, middle - width * spread, middle + width * spread, spread)
