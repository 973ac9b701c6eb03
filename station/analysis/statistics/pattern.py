"""Pattern distance: how unlike the production population a whole curve is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.optimize
import scipy.special
import scipy.stats

from station.analysis.arrays import FloatArray, read_only
from station.analysis.statistics.population import PatternModel
from station.errors import NoSignalError

SMALLEST_RATIO = 1e-300
LARGEST_SQUARE = 1e4  # of a mean of squares in sigma; no share of good units lies beyond


@dataclass(frozen=True, slots=True, eq=False)
class PatternDistance:
    """How far one curve is from a population.

    Parameters
    ----------
    distance_sigma : float
        Root mean square of the two below; about 1 for a good unit.
    mode_sigma : float
        Root mean square of the scores along the population's own modes, in standard deviations:
        how much of what good units do as well.
    rest_sigma : float
        Root mean square of what the modes leave, in standard deviations: what good units do not.
    mode_probability, rest_probability : float
        Share of good units that lie further out.
    mode_scores_sigma : ndarray, shape (k,)
        Score along each mode, signed.
    rest_sigma_curve : ndarray, shape (n,)
        What the modes leave at each frequency, signed.
    worst_hz : float
        Where what the modes leave is largest.
    """

    distance_sigma: float
    mode_sigma: float
    rest_sigma: float
    mode_probability: float
    rest_probability: float
    mode_scores_sigma: FloatArray
    rest_sigma_curve: FloatArray
    worst_hz: float

    def __post_init__(self) -> None:
        for name in ("mode_scores_sigma", "rest_sigma_curve"):
            object.__setattr__(self, name, read_only(getattr(self, name)))


def pattern_distance(
    model: PatternModel, frequency_hz: FloatArray, values: FloatArray
) -> PatternDistance:
    """Return how far a curve is from a population, along its modes and beside them.

    Parameters
    ----------
    model : PatternModel
        Of units that passed; the new unit is best not one of them.
    frequency_hz : ndarray, shape (n,)
        The model's own.
    values : ndarray, shape (n,)
        The new unit's curve, in the model's unit.

    Returns
    -------
    PatternDistance
        For a fresh good unit of a normal population of m members, T² over its k modes follows
        F(k, m - k), and the power of what is left that ref. 1 gives, the normal distribution.

    Raises
    ------
    ValueError
        If the frequencies are not the model's.
    NoSignalError
        If a value is not finite.

    References
    ----------
    .. [1] Jackson, Mudholkar, Technometrics 21(3), 1979, doi:10.1080/00401706.1979.10489779
    .. [2] Hotelling, Ann. Math. Stat. 2(3), 1931, doi:10.1214/aoms/1177732979, on T².
    """
    if values.shape != model.mean.shape or not np.array_equal(frequency_hz, model.frequency_hz):
        raise ValueError("the curve is not on the model's frequencies")
    if not np.isfinite(values).all():
        raise NoSignalError("The curve has gaps.", "Test the unit again.")
    members = len(model.member_ids)
    offset = values - model.mean
    scores = model.modes @ offset
    scores_sigma = scores / model.mode_spread
    rest_curve = (offset - scores @ model.modes) / model.rest_spread
    mode_square = float(np.mean(scores_sigma**2))
    # A square over a variance that m members estimated is m / (m - 2) in the mean: that of F(1, m).
    rest_square = float(np.mean(rest_curve**2)) * (members - 2.0) / members
    count = scores.size
    return PatternDistance(
        distance_sigma=math.sqrt(0.5 * (mode_square + rest_square)),
        mode_sigma=math.sqrt(mode_square),
        rest_sigma=math.sqrt(rest_square),
        mode_probability=float(scipy.stats.f.sf(mode_square, count, members - count)),
        rest_probability=probability_beyond(rest_square, model.rest_traces),
        mode_scores_sigma=scores_sigma,
        rest_sigma_curve=rest_curve,
        worst_hz=float(frequency_hz[int(np.argmax(np.abs(rest_curve)))]),
    )


def farthest_good(model: PatternModel, beyond_ratio: float) -> tuple[float, float]:
    """Return how far good units lie from a population, all but some of them.

    Parameters
    ----------
    model : PatternModel
        Of units that passed.
    beyond_ratio : float
        Share of good units that may lie further out, between 0 and 0.5.

    Returns
    -------
    tuple of float
        `mode_sigma` and `rest_sigma` that so many good units exceed, each by itself.

    Raises
    ------
    ValueError
        If the share is not between 0 and 0.5.

    References
    ----------
    .. [1] As `pattern_distance`, solved for the distance.
    """
    if not 0.0 < beyond_ratio < 0.5:
        raise ValueError(f"need a share between 0 and 0.5; got {beyond_ratio}")
    members, count = len(model.member_ids), model.mode_spread.size
    mode_square = float(scipy.stats.f.isf(beyond_ratio, count, members - count))

    def excess(log_square: float) -> float:
        found = probability_beyond(math.exp(log_square), model.rest_traces)
        return math.log(max(found, SMALLEST_RATIO)) - math.log(beyond_ratio)

    log_square = float(scipy.optimize.brentq(excess, 0.0, math.log(LARGEST_SQUARE)))
    return math.sqrt(mode_square), math.exp(0.5 * log_square)


def probability_beyond(rest_square: float, traces: FloatArray) -> float:
    """Return the share of good units with a larger mean square of what is left (ref. 1).

    With h = 1 - 2 θ1 θ3 / (3 θ2²), the power h of Q over its mean θ1 is nearly normal.
    """
    first, second, third = (float(trace) for trace in traces)
    power = 1.0 - 2.0 * first * third / (3.0 * second**2)
    bent = float(scipy.special.boxcox(rest_square, power))  # (x^h - 1) / h, its limit at h = 0
    deviate = (first * bent - second * (power - 1.0) / first) / math.sqrt(2.0 * second)
    return float(scipy.stats.norm.sf(deviate))
