"""A counted share with its exact confidence interval."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.stats import beta

CONFIDENCE_RATIO = 0.95


@dataclass(frozen=True, slots=True)
class Proportion:
    """How many of how many, and between which shares the truth lies."""

    hits: int
    n: int
    lower_ratio: float
    upper_ratio: float

    @property
    def ratio(self) -> float:
        """The share counted; NaN of none."""
        return self.hits / self.n if self.n else math.nan


def proportion(hits: int, n: int, confidence_ratio: float = CONFIDENCE_RATIO) -> Proportion:
    """Return a share with its two-sided exact interval.

    Parameters
    ----------
    hits : int
        How many it was.
    n : int
        Of how many; of none, the truth lies anywhere.
    confidence_ratio : float
        How sure the interval is to hold the truth, at least.

    Returns
    -------
    Proportion
        With the interval's two ends.

    Raises
    ------
    ValueError
        If there are fewer than no hits or more than `n`.

    References
    ----------
    .. [1] Clopper and Pearson, Biometrika 26(4), 1934, doi:10.1093/biomet/26.4.404
    """
    if not 0 <= hits <= n:
        raise ValueError(f"need 0 <= hits <= n; got {hits} of {n}")
    tail = 0.5 * (1.0 - confidence_ratio)
    lower = float(beta.ppf(tail, hits, n - hits + 1)) if hits else 0.0
    upper = float(beta.ppf(1.0 - tail, hits + 1, n - hits)) if hits < n else 1.0
    return Proportion(hits, n, lower, upper)
