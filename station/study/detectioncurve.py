"""The probability that a fault is found, as a curve over its severity, fitted to a ladder of tests.

A good unit fails now and then, too; that share is the curve's floor and is not credited to the
fault. No curve may be steeper than the ladder can resolve, from 1 to 99 % within one rung: this
is what keeps a fit finite when everything beyond some rung was found and nothing before it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy import optimize
from scipy.special import log_ndtr, ndtr, ndtri
from scipy.stats import chi2

from station.analysis.arrays import FloatArray, read_only

CONFIDENCE_RATIO = 0.95
RUNG_SIGMAS = 2.0 * float(ndtri(0.99))  # from 1 to 99 %
LOG_ROOT_TWO_PI = 0.5 * math.log(2.0 * math.pi)
STARTS = 9  # medians and slopes tried before the fit begins
DRAWS, DRAWS_SEED = 999, 1
POOR_FIT_RATIO = 0.01  # a worse fit than this share of what chance alone would make


@dataclass(frozen=True, slots=True, eq=False)
class Ladder:
    """How many of how many were found at each rung.

    Parameters
    ----------
    position : ndarray, shape (n,)
        Rising; severity or its logarithm, whichever spaces the rungs evenly.
    found, tested : ndarray, shape (n,)
        Counts.
    floor_ratio : float
        Share of good units that fail, 0 to below 1.
    """

    position: FloatArray
    found: FloatArray
    tested: FloatArray
    floor_ratio: float = 0.0

    def __post_init__(self) -> None:
        if self.position.ndim != 1 or self.position.size < 2:
            raise ValueError(f"need two rungs or more; got shape {self.position.shape}")
        if not self.position.shape == self.found.shape == self.tested.shape:
            raise ValueError("positions and counts differ in shape")
        if np.any(np.diff(self.position) <= 0.0):
            raise ValueError("rungs must rise")
        if np.any(self.found < 0) or np.any(self.found > self.tested):
            raise ValueError("cannot have found more than was tested, or less than nothing")
        if not 0.0 <= self.floor_ratio < 1.0:
            raise ValueError(f"the floor is a share below 1; got {self.floor_ratio}")
        for name in ("position", "found", "tested"):
            object.__setattr__(self, name, read_only(getattr(self, name)))

    @property
    def steepest(self) -> float:
        """Largest slope that the rungs can resolve, in sigmas per unit of position."""
        return RUNG_SIGMAS / float(np.min(np.diff(self.position)))

    def log_likelihood(self, intercept: float, slope: float) -> float:
        """Return the log-likelihood of a curve, without its constant."""
        sigmas = intercept + slope * self.position
        log_missed = log_ndtr(-sigmas)
        log_found = log_ndtr(sigmas)
        if self.floor_ratio > 0.0:
            kept = math.log1p(-self.floor_ratio)
            log_found = np.logaddexp(math.log(self.floor_ratio), kept + log_found)
            log_missed = kept + log_missed
        missed = self.tested - self.found
        return float(self.found @ log_found + missed @ log_missed)

    def gradient(self, intercept: float, slope: float) -> FloatArray:
        """Return the slope of the log-likelihood along intercept and slope."""
        sigmas = intercept + slope * self.position
        log_density = -0.5 * sigmas**2 - LOG_ROOT_TWO_PI
        log_found = log_ndtr(sigmas)
        kept = 0.0
        if self.floor_ratio > 0.0:
            kept = math.log1p(-self.floor_ratio)
            log_found = np.logaddexp(math.log(self.floor_ratio), kept + log_found)
        pull = self.found * np.exp(kept + log_density - log_found)
        pull -= (self.tested - self.found) * np.exp(log_density - log_ndtr(-sigmas))
        return np.array([np.sum(pull), pull @ self.position])


@dataclass(frozen=True, slots=True)
class Threshold:
    """Position at which a fault is found with some probability.

    `position` is minus or plus infinite where that lies before the first rung or beyond the last;
    an end of the interval is infinite where the ladder sets no bound to it.
    """

    probability: float
    position: float
    lower: float
    upper: float


@dataclass(frozen=True, slots=True, eq=False)
class DetectionCurve:
    """The fitted curve.

    `steep` says that it rises within one rung, so that where exactly is not known better than
    that; `poor_fit` that the counts do not follow a curve of this kind.
    """

    intercept: float
    slope: float
    floor_ratio: float
    thresholds: tuple[Threshold, ...]
    steep: bool
    poor_fit: bool

    def probability(self, position: FloatArray) -> FloatArray:
        """Return the probability to fail, floor included, at positions of any shape."""
        through = ndtr(self.intercept + self.slope * position)
        return np.asarray(self.floor_ratio + (1.0 - self.floor_ratio) * through)


def detection_curve(ladder: Ladder, probabilities: tuple[float, ...]) -> DetectionCurve:
    """Return the curve of highest likelihood and where it passes some probabilities.

    Parameters
    ----------
    ladder : Ladder
        Counts per rung.
    probabilities : tuple of float
        Between 0 and 1; found because of the fault, that is above the floor.

    Returns
    -------
    DetectionCurve
        A cumulative normal curve whose thresholds have intervals by profile likelihood at 95 %.

    References
    ----------
    .. [1] Finney, Probit Analysis, 3rd ed., Cambridge, 1971 (curve, natural response)
    .. [2] Venzon and Moolgavkar, Applied Statistics 37(1), 1988, doi:10.2307/2347496 (profile)
    """
    intercept, slope = most_likely(ladder)
    best = ladder.log_likelihood(intercept, slope)
    if not ladder.found.any() or (ladder.found == ladder.tested).all():
        best = 0.0  # nothing or everything found: the supremum, reached by no curve
    thresholds = tuple(threshold(ladder, p, intercept, slope, best) for p in probabilities)
    curve = DetectionCurve(
        intercept,
        slope,
        ladder.floor_ratio,
        thresholds,
        steep=slope > 0.99 * ladder.steepest,
        poor_fit=False,
    )
    return replace(curve, poor_fit=not fits(curve, ladder))


def most_likely(ladder: Ladder) -> tuple[float, float]:
    """Return intercept and slope of highest likelihood, on positions scaled for the search."""
    middle = float(np.mean(ladder.position))
    half = 0.5 * float(np.ptp(ladder.position))
    scaled = Ladder(
        (ladder.position - middle) / half, ladder.found, ladder.tested, ladder.floor_ratio
    )
    steepest = scaled.steepest
    most = RUNG_SIGMAS + 3.0 * steepest  # at a median a whole ladder outside, all is decided

    def cost(at: FloatArray) -> tuple[float, FloatArray]:
        return -scaled.log_likelihood(at[0], at[1]), -scaled.gradient(at[0], at[1])

    starts = [
        (-slope * median, slope)
        for slope in np.geomspace(0.05, 1.0, STARTS) * steepest
        for median in np.linspace(-1.5, 1.5, STARTS)
    ]
    start = max(starts, key=lambda at: scaled.log_likelihood(*at))
    found = optimize.minimize(
        cost,
        np.array(start),
        jac=True,
        method="L-BFGS-B",
        bounds=[(-most, most), (0.0, steepest)],
        options={"ftol": 1e-15, "gtol": 1e-9},
    )
    slope = float(found.x[1]) / half
    return float(found.x[0]) - slope * middle, slope


def threshold(
    ladder: Ladder, probability: float, intercept: float, slope: float, best: float
) -> Threshold:
    """Return one threshold with the interval in which a curve is hardly less likely."""
    sigmas = float(ndtri(probability))
    first, last = float(ladder.position[0]), float(ladder.position[-1])
    centre = where_reached(ladder, sigmas, intercept, slope)
    worst = 0.5 * float(chi2.ppf(CONFIDENCE_RATIO, 1))

    def excess(position: float) -> float:
        return best - profile(ladder, sigmas, position) - worst

    before, beyond = 2.0 * first - last, 2.0 * last - first  # a whole ladder to either side
    inside = min(max(centre, before), beyond)
    lower = edge(excess, inside, before, -math.inf)
    upper = edge(excess, inside, beyond, math.inf)
    return Threshold(
        probability,
        centre if first <= centre <= last else math.copysign(math.inf, centre - first),
        -math.inf if lower < first else min(lower, last),
        math.inf if upper > last else max(upper, first),
    )


def where_reached(ladder: Ladder, sigmas: float, intercept: float, slope: float) -> float:
    """Return where a curve passes a probability, infinite if it never does."""
    if not ladder.found.any():
        return math.inf
    if (ladder.found == ladder.tested).all():
        return -math.inf
    if slope <= 1e-6 * ladder.steepest:
        return math.inf if intercept < sigmas else -math.inf
    return (sigmas - intercept) / slope


def profile(ladder: Ladder, sigmas: float, position: float) -> float:
    """Return the highest log-likelihood of curves that pass through one point."""

    def cost(slope: float) -> float:
        return -ladder.log_likelihood(sigmas - slope * position, slope)

    found = optimize.minimize_scalar(
        cost,
        bounds=(0.0, ladder.steepest),
        method="bounded",
        options={"xatol": 1e-7 * ladder.steepest},
    )
    return -min(float(found.fun), cost(0.0), cost(ladder.steepest))


def edge(
    excess: Callable[[float], float], inside: float, outside: float, unbounded: float
) -> float:
    """Return where the excess turns positive between two positions, or that it does not."""
    if excess(outside) <= 0.0:
        return unbounded
    if excess(inside) >= 0.0:  # the estimate itself lies outside what is looked at
        return unbounded if inside == outside else inside
    return float(optimize.brentq(excess, inside, outside))


def fits(curve: DetectionCurve, ladder: Ladder) -> bool:
    """Return whether chance alone explains how far the counts lie from the curve.

    The curve is not fitted again to each draw, which makes the test slow to complain.
    """
    expected = np.clip(curve.probability(ladder.position), 1e-6, 1.0 - 1e-6)
    scale = ladder.tested * expected * (1.0 - expected)

    def distance(found: FloatArray) -> FloatArray:
        return np.asarray(np.sum((found - ladder.tested * expected) ** 2 / scale, axis=-1))

    rng = np.random.default_rng(DRAWS_SEED)
    drawn = rng.binomial(ladder.tested.astype(np.int64), expected, (DRAWS, expected.size)).astype(
        float
    )
    as_far = int(np.sum(distance(drawn) >= distance(ladder.found)))
    return (as_far + 1) / (DRAWS + 1) > POOR_FIT_RATIO
