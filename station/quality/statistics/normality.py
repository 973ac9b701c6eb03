"""Is it normal, and where do 99.73 % of it lie if it is not."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.stats import normaltest, shapiro, yeojohnson, yeojohnson_normmax

from station.analysis.arrays import FloatArray

DOUBT_BELOW = 0.05  # of the p-value; common practice, no source
FEWEST = 8
SHAPIRO_MOST = 5000  # beyond, its p-value is not exact; scipy says so
TAIL = 0.00135  # outside minus three sigma of a normal distribution
ENOUGH = math.ceil(1.0 / TAIL)  # values, for a tail to be seen at all


@dataclass(frozen=True, slots=True)
class Normality:
    """The test that was made, and its p-value; NaN where there are too few values to tell."""

    test: str
    p_value: float

    @property
    def doubted(self) -> bool:
        """Whether the values are hardly from a normal distribution."""
        return self.p_value < DOUBT_BELOW


def normality(values: FloatArray) -> Normality:
    """Return whether values may be normal (Shapiro and Wilk 1965; D'Agostino and Pearson 1973)."""
    if values.size < FEWEST or np.ptp(values) == 0.0:
        return Normality("too few values to tell", math.nan)
    if values.size <= SHAPIRO_MOST:
        return Normality("Shapiro-Wilk", float(shapiro(values).pvalue))
    return Normality("D'Agostino-Pearson", float(normaltest(values).pvalue))


@dataclass(frozen=True, slots=True)
class Spread:
    """The values below which 0.135 %, 50 % and 99.865 % lie, and how they were found."""

    low: float
    median: float
    high: float
    how: str


def spread_of(values: FloatArray) -> Spread:
    """Return the percentiles that stand for minus three sigma, the mean and plus three sigma.

    Of values enough to see such tails they are the values' own. Of fewer they come from a normal
    distribution fitted after the transformation of Yeo and Johnson (Biometrika 87(4), 2000), if
    that makes the values normal; else from the values' own range, which is too narrow.
    """
    if values.size >= ENOUGH:
        low, median, high = np.quantile(values, (TAIL, 0.5, 1.0 - TAIL), method="median_unbiased")
        return Spread(float(low), float(median), float(high), "percentiles of the values")
    scale = float(np.std(values)) or 1.0
    centre = float(np.median(values))
    standard = (values - centre) / scale
    power = float(yeojohnson_normmax(standard))
    changed = np.asarray(yeojohnson(standard, lmbda=power))
    middle, sigma = float(np.mean(changed)), float(np.std(changed, ddof=1))
    ends = [restored(middle + times * sigma, power) for times in (-3.0, 0.0, 3.0)]
    if normality(changed).doubted or not all(map(math.isfinite, ends)):
        return Spread(
            float(values.min()), centre, float(values.max()), "range of the values, too few to tell"
        )
    low, median, high = (centre + scale * end for end in ends)
    return Spread(low, median, high, "normal after a power transformation")


def restored(changed: float, power: float) -> float:
    """Return the value that a transformation of Yeo and Johnson made this of; NaN if none."""
    if changed >= 0.0:
        if abs(power) < 1e-12:
            return math.expm1(changed)
        inner = power * changed + 1.0
        return inner ** (1.0 / power) - 1.0 if inner > 0.0 else math.nan
    other = 2.0 - power
    if abs(other) < 1e-12:
        return -math.expm1(-changed)
    inner = 1.0 - other * changed
    return 1.0 - inner ** (1.0 / other) if inner > 0.0 else math.nan
