"""Analysis of variance of balanced designs: one factor, and two crossed ones with repeats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import f as f_distribution

from station.analysis.arrays import FloatArray, read_only


@dataclass(frozen=True, slots=True)
class OneWay:
    """A one-factor analysis; sums and means of squares in the square of the values' unit."""

    between_df: int
    within_df: int
    between_ss: float
    within_ss: float
    group_size: float  # n0 of an unbalanced design, else the repeats of every group

    @property
    def between_ms(self) -> float:
        """Mean square between groups."""
        return self.between_ss / self.between_df

    @property
    def within_ms(self) -> float:
        """Mean square within groups."""
        return self.within_ss / self.within_df

    @property
    def f_ratio(self) -> float:
        """F statistic."""
        return self.between_ms / self.within_ms

    @property
    def p_value(self) -> float:
        """Probability of such an F, or a larger one, if all groups are alike."""
        return float(f_distribution.sf(self.f_ratio, self.between_df, self.within_df))

    @property
    def between_variance(self) -> float:
        """Variance of the groups' true means, never below zero."""
        return max(0.0, (self.between_ms - self.within_ms) / self.group_size)


def one_way(groups: Sequence[FloatArray]) -> OneWay:
    """Return the analysis of groups of values.

    Parameters
    ----------
    groups : sequence of ndarray, each of shape (n_i,)
        Values of each group, in one unit.

    Returns
    -------
    OneWay
        Sums of squares about means that are taken out first, so that many leading digits that all
        values share cost no precision.

    Raises
    ------
    ValueError
        If there are fewer than two groups, one is empty, or none has two values.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 7.4.3, doi:10.18434/M32189
    """
    sizes = np.array([group.size for group in groups], dtype=np.float64)
    if len(groups) < 2 or sizes.min() < 1 or sizes.max() < 2:
        raise ValueError("need two groups or more, none empty, one of two values or more")
    origin = float(groups[0][0])
    shifted = [group - origin for group in groups]  # exact for values that are close together
    means = np.array([group.mean() for group in shifted])
    grand = float(np.sum(sizes * means) / sizes.sum())
    total = float(sizes.sum())
    return OneWay(
        len(groups) - 1,
        int(total) - len(groups),
        float(np.sum(sizes * (means - grand) ** 2)),
        float(sum(np.sum((group - mean) ** 2) for group, mean in zip(shifted, means, strict=True))),
        (total - float(np.sum(sizes**2)) / total) / (len(groups) - 1),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Crossed:
    """A two-factor analysis with repeats of m quantities at once; mean squares of shape (m,)."""

    parts: int
    operators: int
    repeats: int
    part_ms: FloatArray
    operator_ms: FloatArray
    interaction_ms: FloatArray
    repeat_ms: FloatArray

    def __post_init__(self) -> None:
        for name in ("part_ms", "operator_ms", "interaction_ms", "repeat_ms"):
            object.__setattr__(self, name, read_only(getattr(self, name)))

    @property
    def part_df(self) -> int:
        """Degrees of freedom of the parts."""
        return self.parts - 1

    @property
    def operator_df(self) -> int:
        """Degrees of freedom of the operators."""
        return self.operators - 1

    @property
    def interaction_df(self) -> int:
        """Degrees of freedom of the interaction."""
        return (self.parts - 1) * (self.operators - 1)

    @property
    def repeat_df(self) -> int:
        """Degrees of freedom of the repeats."""
        return self.parts * self.operators * (self.repeats - 1)

    @property
    def pooled_df(self) -> int:
        """Degrees of freedom of interaction and repeats together."""
        return self.interaction_df + self.repeat_df

    @property
    def pooled_ms(self) -> FloatArray:
        """Mean square of interaction and repeats together."""
        pooled: FloatArray = (
            self.interaction_df * self.interaction_ms + self.repeat_df * self.repeat_ms
        ) / self.pooled_df
        return pooled

    @property
    def interaction_p_value(self) -> FloatArray:
        """Probability of such an interaction, or a larger one, if there is none."""
        ratio = self.interaction_ms / self.repeat_ms
        return np.asarray(f_distribution.sf(ratio, self.interaction_df, self.repeat_df))


def crossed(values: FloatArray) -> Crossed:
    """Return the analysis of a balanced crossed design.

    Parameters
    ----------
    values : ndarray, shape (parts, operators, repeats, m)
        What each operator read of each part each time, for m quantities.

    Returns
    -------
    Crossed
        Mean squares of shape (m,).

    Raises
    ------
    ValueError
        If there are fewer than two parts, operators or repeats.

    References
    ----------
    .. [1] Burdick, Borror and Montgomery, J. Quality Technology 35(4), 2003, pp. 342-354
    """
    if values.ndim != 4 or min(values.shape[:3]) < 2:
        raise ValueError(f"need shape (p, o, r, m), each of p, o, r >= 2; got {values.shape}")
    p, o, r, _ = values.shape
    shifted = values - values[0, 0, 0]
    cell = shifted.mean(axis=2)
    part, operator, grand = cell.mean(axis=1), cell.mean(axis=0), cell.mean(axis=(0, 1))
    left = cell - part[:, None] - operator[None] + grand
    return Crossed(
        p,
        o,
        r,
        o * r * np.sum((part - grand) ** 2, axis=0) / (p - 1),
        p * r * np.sum((operator - grand) ** 2, axis=0) / (o - 1),
        r * np.sum(left**2, axis=(0, 1)) / ((p - 1) * (o - 1)),
        np.sum((shifted - cell[:, :, None]) ** 2, axis=(0, 1, 2)) / (p * o * (r - 1)),
    )
