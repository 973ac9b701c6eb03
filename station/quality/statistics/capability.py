"""Capability: how many times the spread of a reading fits between its limits."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2, norm

from station.analysis.arrays import FloatArray
from station.quality.statistics.charts import subgroups
from station.quality.statistics.normality import Normality, Spread, normality, spread_of

CONFIDENCE_RATIO = 0.95
FEWEST = 8
BOOTSTRAPS = 100  # each fits a transformation anew, some 8 ms


@dataclass(frozen=True, slots=True)
class Index:
    """A capability index with its two-sided interval; NaN where it cannot be stated."""

    value: float
    lower: float
    upper: float


NONE = Index(math.nan, math.nan, math.nan)


@dataclass(frozen=True, slots=True)
class Capability:
    """Indices of one reading: cp, cpk by the spread within subgroups, pp, ppk by the whole.

    `percentile` says that pp and ppk stand on percentiles instead of a normal distribution; cp
    and cpk are not stated then. Of a limit with one side, cp and pp are not stated.
    """

    n: int
    mean: float
    within: float
    overall: float
    cp: Index
    cpk: Index
    pp: Index
    ppk: Index
    normality: Normality
    spread: Spread | None

    @property
    def percentile(self) -> bool:
        """Whether pp and ppk stand on percentiles."""
        return self.spread is not None


def capability(values: FloatArray, lower: float, upper: float, subgroup: int) -> Capability:
    """Return the capability of values in the order they came.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Finite, of one model; a subgroup is so many that came one after another.
    lower, upper : float
        Tolerance limits; infinite where a side is open.
    subgroup : int
        Size of a subgroup, 2 or more.

    Raises
    ------
    ValueError
        If there are too few values, or no limit at all.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6, doi:10.18434/M32189
    .. [2] Bissell, Applied Statistics 39(3), 1990, pp. 331-340
    .. [3] ISO 22514-2 (percentiles)
    """
    if values.size < max(FEWEST, 2 * subgroup):
        raise ValueError(f"need {max(FEWEST, 2 * subgroup)} values or more")
    if math.isinf(lower) and math.isinf(upper):
        raise ValueError("need a limit on one side at least")
    groups = subgroups(values, subgroup)
    within = math.sqrt(float(np.mean(np.var(groups, axis=1, ddof=1))))
    within_df = groups.shape[0] * (subgroup - 1)
    mean, overall = float(np.mean(values)), float(np.std(values, ddof=1))
    checked = normality(values)
    facts = (values.size, mean, within, overall)
    if checked.doubted:
        spread = spread_of(values)
        pp, ppk = percentile_indices(values, lower, upper, spread)
        return Capability(*facts, NONE, NONE, pp, ppk, checked, spread)
    return Capability(
        *facts,
        width_index(within, within_df, lower, upper),
        nearest_index(mean, within, within_df, values.size, lower, upper),
        width_index(overall, values.size - 1, lower, upper),
        nearest_index(mean, overall, values.size - 1, values.size, lower, upper),
        checked,
        None,
    )


def width_index(sigma: float, df: int, lower: float, upper: float) -> Index:
    """Return the width of the limits over six sigma; exact interval by chi-square."""
    if math.isinf(lower) or math.isinf(upper) or sigma == 0.0:
        return NONE
    value, tail = (upper - lower) / (6.0 * sigma), 0.5 * (1.0 - CONFIDENCE_RATIO)
    ends = (math.sqrt(float(chi2.ppf(share, df)) / df) for share in (tail, 1.0 - tail))
    low, high = (value * end for end in ends)
    return Index(value, low, high)


def nearest_index(mean: float, sigma: float, df: int, n: int, lower: float, upper: float) -> Index:
    """Return the distance of the mean from the nearer limit over three sigma.

    The interval is Bissell's: the variance of the index is 1/(9 n) + index²/(2 df).
    """
    if sigma == 0.0:
        return NONE
    value = min(upper - mean, mean - lower) / (3.0 * sigma)
    reach = float(norm.ppf(0.5 + 0.5 * CONFIDENCE_RATIO))
    room = reach * math.sqrt(1.0 / (9.0 * n) + value**2 / (2.0 * df))
    return Index(value, value - room, value + room)


def percentile_indices(
    values: FloatArray, lower: float, upper: float, spread: Spread
) -> tuple[Index, Index]:
    """Return pp and ppk by percentiles; intervals by drawing the values again (fixed seed)."""
    random = np.random.default_rng(22514)
    drawn = [
        indices_of(spread_of(random.choice(values, values.size)), lower, upper)
        for _ in range(BOOTSTRAPS)
    ]
    tail = 0.5 * (1.0 - CONFIDENCE_RATIO)
    found = []
    for value, column in zip(indices_of(spread, lower, upper), np.array(drawn).T, strict=True):
        finite = column[np.isfinite(column)]
        ends = np.quantile(finite, (tail, 1.0 - tail)) if finite.size else (math.nan, math.nan)
        found.append(Index(value, float(ends[0]), float(ends[1])))
    return found[0], found[1]


def indices_of(spread: Spread, lower: float, upper: float) -> tuple[float, float]:
    """Return pp and ppk by percentiles; NaN where they cannot be stated."""
    width = spread.high - spread.low
    two_sided = math.isfinite(lower) and math.isfinite(upper) and width > 0.0
    sides = [
        room / reach
        for room, reach in (
            (upper - spread.median, spread.high - spread.median),
            (spread.median - lower, spread.median - spread.low),
        )
        if math.isfinite(room) and reach > 0.0
    ]
    return (upper - lower) / width if two_sided else math.nan, min(sides, default=math.nan)
