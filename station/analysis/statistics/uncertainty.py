"""Standard uncertainties: how those of independent inputs combine, and how far to trust it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import scipy.stats

from station.analysis.arrays import FloatArray
from station.analysis.statistics.covariance import sensitivities

DB_PER_NEPER = 20.0 / math.log(10.0)


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its standard uncertainty, both in the same unit.

    Attributes
    ----------
    value : float
        Best estimate.
    standard_uncertainty : float
        One standard deviation of what the value may be.
    degrees_of_freedom : float
        Of the standard uncertainty itself; infinite where it is taken as certain.
    """

    value: float
    standard_uncertainty: float
    degrees_of_freedom: float = math.inf

    def __post_init__(self) -> None:
        if not self.standard_uncertainty >= 0.0 or not self.degrees_of_freedom > 0.0:
            raise ValueError(
                f"need an uncertainty >= 0 and degrees of freedom > 0; got "
                f"{self.standard_uncertainty} and {self.degrees_of_freedom}"
            )


def mean_estimate(observations: FloatArray) -> Estimate:
    """Return the mean of repeated observations with its standard uncertainty.

    Parameters
    ----------
    observations : ndarray, shape (n,)
        Independent, n >= 2, in any unit.

    Returns
    -------
    Estimate
        With n - 1 degrees of freedom, in the unit of the observations.

    Raises
    ------
    ValueError
        If there are fewer than two observations, or one is not finite.

    References
    ----------
    .. [1] JCGM 100:2008, 4.2.3 and 4.2.6.
    """
    if observations.ndim != 1 or observations.size < 2 or not np.isfinite(observations).all():
        raise ValueError(f"need shape (n,), n >= 2, all finite; got {observations.shape}")
    spread = float(np.std(observations, ddof=1)) / math.sqrt(observations.size)
    return Estimate(float(np.mean(observations)), spread, observations.size - 1.0)


def rectangular_uncertainty(half_width: float) -> float:
    """Return the standard uncertainty of a value known only to lie between two bounds.

    Parameters
    ----------
    half_width : float
        Half the distance of the bounds.

    Returns
    -------
    float
        In the unit of `half_width`.

    Raises
    ------
    ValueError
        If `half_width` is negative or not finite.

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.7, eq. (7).
    """
    if not 0.0 <= half_width < math.inf:
        raise ValueError(f"need a finite half width >= 0; got {half_width}")
    return half_width / math.sqrt(3.0)


def effective_degrees_of_freedom(
    contributions: FloatArray, degrees_of_freedom: FloatArray
) -> float:
    """Return the degrees of freedom of a combined uncertainty (Welch and Satterthwaite).

    Parameters
    ----------
    contributions : ndarray, shape (n,)
        Sensitivity times standard uncertainty of each independent input, in the output's unit.
    degrees_of_freedom : ndarray, shape (n,)
        Of each input; may be infinite.

    Returns
    -------
    float
        Not rounded; infinite if no input with finite degrees of freedom contributes.

    Raises
    ------
    ValueError
        If the shapes disagree, or degrees of freedom are not above zero.

    References
    ----------
    .. [1] JCGM 100:2008, G.4.1, eq. (G.2b).
    """
    if contributions.ndim != 1 or contributions.shape != degrees_of_freedom.shape:
        raise ValueError(
            f"need two shapes (n,); got {contributions.shape} and {degrees_of_freedom.shape}"
        )
    if not np.all(degrees_of_freedom > 0.0):
        raise ValueError("need degrees of freedom above zero")
    largest = float(np.max(np.abs(contributions), initial=0.0))
    if largest == 0.0:
        return math.inf
    shares = (contributions / largest) ** 2
    spread = float(np.sum(shares**2 / degrees_of_freedom))
    return math.inf if spread == 0.0 else float(np.sum(shares)) ** 2 / spread


def coverage_factor(degrees_of_freedom: float, coverage_probability: float) -> float:
    """Return by what to multiply a standard uncertainty for an interval of given coverage.

    Parameters
    ----------
    degrees_of_freedom : float
        Of the combined standard uncertainty, at least 1; truncated to a whole number.
    coverage_probability : float
        Of the interval, between 0 and 1.

    Returns
    -------
    float
        Quantile of Student's distribution, a ratio.

    Raises
    ------
    ValueError
        If there is less than one degree of freedom, or the probability is not inside 0 to 1.

    References
    ----------
    .. [1] JCGM 100:2008, G.3.4, G.4.1 and table G.2.
    """
    if not degrees_of_freedom >= 1.0 or not 0.0 < coverage_probability < 1.0:
        raise ValueError(
            f"need degrees >= 1 and a probability inside 0 to 1; got "
            f"{degrees_of_freedom} and {coverage_probability}"
        )
    whole = math.floor(degrees_of_freedom) if math.isfinite(degrees_of_freedom) else math.inf
    return float(scipy.stats.t.ppf(0.5 * (1.0 + coverage_probability), whole))


def combined(function: Callable[[FloatArray], float], inputs: Sequence[Estimate]) -> Estimate:
    """Return the result of a function of independent inputs with its combined uncertainty.

    Parameters
    ----------
    function : callable
        Maps an array of shape (n,), one value for each input, to the result; in any units.
    inputs : sequence of Estimate
        Independent of each other; for others, see `covariance.propagated_covariance`, which has
        no effective degrees of freedom, as ref. 1 holds for independent inputs only.

    Returns
    -------
    Estimate
        To the first order of the function over the inputs' uncertainties.

    Raises
    ------
    ValueError
        If there is no input.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2, eq. (10), 5.1.3 and G.4.1.
    """
    if not inputs:
        raise ValueError("need one input or more")
    values = np.array([estimate.value for estimate in inputs])
    uncertainties = np.array([estimate.standard_uncertainty for estimate in inputs])
    degrees = np.array([estimate.degrees_of_freedom for estimate in inputs])
    partials = sensitivities(lambda at: np.array([function(at)]), values, uncertainties)[0]
    contributions = partials * uncertainties
    return Estimate(
        float(function(values)),
        float(np.linalg.norm(contributions)),
        effective_degrees_of_freedom(contributions, degrees),
    )


def level_uncertainty_db(relative_uncertainty_ratio: float) -> float:
    """Return the standard uncertainty of a level from that of the amplitude under it.

    Parameters
    ----------
    relative_uncertainty_ratio : float
        Standard uncertainty of the amplitude over the amplitude.

    Returns
    -------
    float
        In dB, to the first order: within 1 % up to a ratio of 0.02 (0.17 dB), one-sided.

    Raises
    ------
    ValueError
        If the ratio is negative or not finite.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2, eq. (10), on L = 20 lg(a / a0).
    """
    if not 0.0 <= relative_uncertainty_ratio < math.inf:
        raise ValueError(f"need a finite ratio >= 0; got {relative_uncertainty_ratio}")
    return DB_PER_NEPER * relative_uncertainty_ratio


def relative_uncertainty_ratio(level_uncertainty_db: float) -> float:
    """Return the relative standard uncertainty of an amplitude from that of its level.

    Parameters
    ----------
    level_uncertainty_db : float
        Standard uncertainty of the level in dB.

    Returns
    -------
    float
        Standard uncertainty of the amplitude over the amplitude.

    Raises
    ------
    ValueError
        If the uncertainty is negative or not finite.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2, eq. (10), on L = 20 lg(a / a0).
    """
    if not 0.0 <= level_uncertainty_db < math.inf:
        raise ValueError(f"need a finite level >= 0 dB; got {level_uncertainty_db}")
    return level_uncertainty_db / DB_PER_NEPER
