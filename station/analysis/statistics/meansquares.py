"""Confidence intervals of linear combinations of independent mean squares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from scipy.stats import chi2
from scipy.stats import f as f_distribution

from station.analysis.arrays import FloatArray, read_only


@dataclass(frozen=True, slots=True, eq=False)
class Interval:
    """An estimate with its two-sided interval, each of shape (m,)."""

    estimate: FloatArray
    lower: FloatArray
    upper: FloatArray

    def __post_init__(self) -> None:
        for name in ("estimate", "lower", "upper"):
            object.__setattr__(self, name, read_only(getattr(self, name)))


@dataclass(frozen=True, slots=True, eq=False)
class Term:
    """A mean square of shape (m,) with its degrees of freedom, times a positive number."""

    ms: FloatArray
    df: int
    times: float = 1.0

    @property
    def value(self) -> FloatArray:
        """The term."""
        value: FloatArray = self.times * self.ms
        return value


def combination_interval(
    plus: Sequence[Term], minus: Sequence[Term], confidence_ratio: float
) -> Interval:
    """Return the sum of some mean squares less the sum of others, with its interval.

    Modified large-sample intervals: exact for one mean square, close to exact for a sum (Graybill
    and Wang) and for a difference (Ting et al.). Estimate and ends are not cut off at zero.

    Parameters
    ----------
    plus, minus : sequence of Term
        At most two of `plus` where there is a `minus`, and at most one `minus`.
    confidence_ratio : float
        How sure the interval is to hold the truth.

    References
    ----------
    .. [1] Graybill and Wang, J. American Statistical Association 75, 1980, pp. 869-873
    .. [2] Ting et al., J. Statistical Computation and Simulation 35, 1990, pp. 135-143
    .. [3] Burdick, Borror and Montgomery, J. Quality Technology 35(4), 2003, pp. 342-354
    """
    if len(minus) > 1 or (minus and len(plus) > 2):
        raise ValueError("need at most one minus, and then at most two plus")
    tail = 0.5 * (1.0 - confidence_ratio)
    below, above = np.zeros(()), np.zeros(())
    for terms, down, up in ((plus, shrink, stretch), (minus, stretch, shrink)):
        for one in terms:
            below = below + (down(one.df, tail) * one.value) ** 2
            above = above + (up(one.df, tail) * one.value) ** 2
    for one, other in product(plus, minus):
        crossing = one.value * other.value
        below = below + lower_crossing(one.df, other.df, tail) * crossing
        above = above + upper_crossing(one.df, other.df, tail) * crossing
    if minus:
        for one, other in combinations(plus, 2):
            below = below + lower_joining(one.df, other.df, tail) * one.value * other.value
    estimate = sum(one.value for one in plus) - sum(one.value for one in minus)
    return Interval(
        np.asarray(estimate, dtype=np.float64),
        np.asarray(estimate - np.sqrt(np.maximum(below, 0.0)), dtype=np.float64),
        np.asarray(estimate + np.sqrt(np.maximum(above, 0.0)), dtype=np.float64),
    )


def shrink(df: int, tail: float) -> float:
    """Return G: how far below its estimate a mean square's expectation may lie, as a share."""
    return 1.0 - df / float(chi2.ppf(1.0 - tail, df))


def stretch(df: int, tail: float) -> float:
    """Return H: how far above its estimate a mean square's expectation may lie, as a share."""
    return df / float(chi2.ppf(tail, df)) - 1.0


def lower_crossing(df: int, other_df: int, tail: float) -> float:
    """Return the factor of a product of a plus and a minus term for the lower end."""
    ratio = float(f_distribution.ppf(1.0 - tail, df, other_df))
    squares = (shrink(df, tail) * ratio) ** 2 + stretch(other_df, tail) ** 2
    return ((ratio - 1.0) ** 2 - squares) / ratio


def upper_crossing(df: int, other_df: int, tail: float) -> float:
    """Return the factor of a product of a plus and a minus term for the upper end."""
    ratio = float(f_distribution.ppf(tail, df, other_df))
    squares = (stretch(df, tail) * ratio) ** 2 + shrink(other_df, tail) ** 2
    return ((1.0 - ratio) ** 2 - squares) / ratio


def lower_joining(df: int, other_df: int, tail: float) -> float:
    """Return the factor of a product of two plus terms for the lower end of a difference."""
    both = df + other_df
    return (
        (shrink(both, tail) * both) ** 2 / (df * other_df)
        - shrink(df, tail) ** 2 * df / other_df
        - shrink(other_df, tail) ** 2 * other_df / df
    )
