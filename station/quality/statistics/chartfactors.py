"""Control-chart factors from their definition: what a normal sample's range and spread are."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from scipy.integrate import quad
from scipy.special import gammaln, ndtr
from scipy.stats import norm

LARGEST_SIZE = 50
FARTHEST = 12.0  # standard deviations; what lies beyond is below 1e-30


@cache
def d2(size: int) -> float:
    """Return the mean range of a sample of a standard normal distribution.

    The mean of what is never negative is the integral of the chance to exceed each value; the
    chance that a sample straddles x, summed over x, is the same integral (Tippett, Biometrika 17,
    1925): ∫ 1 − Φⁿ − (1 − Φ)ⁿ dx.
    """
    check_size(size)

    def straddled(x: float) -> float:
        below = float(ndtr(x))
        return float(1.0 - below**size - (1.0 - below) ** size)

    return float(quad(straddled, -FARTHEST, FARTHEST, points=[0.0], limit=200)[0])


@cache
def d3(size: int) -> float:
    """Return the standard deviation of the range of such a sample.

    The mean square of the range is 2 ∫ w · (chance that the range exceeds w) dw; the chance that
    it stays within w is n ∫ φ(x) (Φ(x + w) − Φ(x))ⁿ⁻¹ dx.
    """
    check_size(size)
    x = np.linspace(-FARTHEST, FARTHEST, 4001)
    step, density, below = x[1] - x[0], norm.pdf(x), ndtr(x)

    def exceeded(w: float) -> float:
        within = size * step * np.sum(density * (ndtr(x + w) - below) ** (size - 1))
        return float(2.0 * w * (1.0 - within))

    square = float(quad(exceeded, 0.0, 2.0 * FARTHEST, points=[2.0, 6.0, 12.0], limit=200)[0])
    return math.sqrt(square - d2(size) ** 2)


def c4(size: int) -> float:
    """Return the mean standard deviation of a sample, in true standard deviations."""
    check_size(size)
    half = 0.5 * (size - 1)
    return float(np.exp(gammaln(half + 0.5) - gammaln(half)) / math.sqrt(half))


def mean_range_factors(size: int) -> tuple[float, float, float]:
    """Return A2, D3 and D4: limits of means about theirs and of ranges, in mean ranges."""
    width = 3.0 * d3(size) / d2(size)
    return 3.0 / (d2(size) * math.sqrt(size)), max(0.0, 1.0 - width), 1.0 + width


def check_size(size: int) -> None:
    """Refuse a sample that has no range, or one that nobody takes."""
    if not 2 <= size <= LARGEST_SIZE:
        raise ValueError(f"need a sample of 2 to {LARGEST_SIZE}; got {size}")
