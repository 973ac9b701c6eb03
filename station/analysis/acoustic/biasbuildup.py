"""How a panel's bias builds up: its level against the time since the bias was switched on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy.optimize

from station.analysis.arrays import FloatArray
from station.errors import NoSignalError

FEWEST_POINTS = 4
DB_PER_NEPER = 20.0 / math.log(10.0)

# The time constant is searched from one that is over before the first measurement to one of
# which the last measurement sees a beginning only.
SHORTEST_OF_FIRST = 1.0 / 10.0
LONGEST_OF_LAST = 20.0
SEARCHED_STEPS = 60
SEARCH_TOLERANCE = 1e-9

BiasState = Literal["missing", "charging", "low", "settled"]


@dataclass(frozen=True, slots=True)
class BiasThresholds:
    """What decides the state of a bias.

    Attributes
    ----------
    missing_below_db : float
        The panel makes no sound of its own if no level reaches this.
    low_below_db : float
        A settled level below this is too low.
    settled_within_db : float
        How near to its settled level, above zero, the last one must be.
    """

    missing_below_db: float
    low_below_db: float
    settled_within_db: float


@dataclass(frozen=True, slots=True)
class ChargingFit:
    """A first-order charge: amplitude a(t) = a_settled (1 - exp(-t / tau)).

    Each value has its standard uncertainty (`_u_`) beside it, from the scatter about the fit.
    `residual_db` is the root mean square of what the fit leaves, per degree of freedom.
    """

    settled_db: float
    settled_u_db: float
    time_constant_s: float
    time_constant_u_s: float
    ninety_percent_s: float
    ninety_percent_u_s: float
    residual_db: float


@dataclass(frozen=True, slots=True)
class BiasBuildUp:
    """State of the bias, and its charge where one could be seen.

    `fit` is None if the panel is missing, or was charged before the first measurement, or rises
    so steadily that no end is in sight. `last_db` is the latest level.
    """

    state: BiasState
    last_db: float
    fit: ChargingFit | None


def bias_build_up(
    time_s: FloatArray, level_db: FloatArray, thresholds: BiasThresholds
) -> BiasBuildUp:
    """Return how far a panel's bias has come.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Since the bias was switched on; rising, above zero; n >= 4.
    level_db : ndarray, shape (n,)
        Level of the panel's band, any reference.
    thresholds : BiasThresholds
        In the same reference.

    Returns
    -------
    BiasBuildUp
        "missing" if no level reaches `missing_below_db`; "charging" while the last level is
        further below the settled one than `settled_within_db`; then "low" or "settled". A bias
        that still charges is never called low: what it will settle at is an extrapolation.

    Raises
    ------
    NoSignalError
        If there are fewer than four levels, or one is not finite.
    ValueError
        If the shapes disagree or times do not rise from above zero.

    References
    ----------
    .. [1] Common practice, no source: the sensitivity of an electrostatic panel is proportional
       to its bias, which charges through a resistor as 1 - exp(-t / tau).
    """
    check_levels(time_s, level_db)
    last_db = float(level_db[-1])
    if float(np.max(level_db)) < thresholds.missing_below_db:
        return BiasBuildUp("missing", last_db, None)
    log_tau, at_end = best_log_time_constant(time_s, level_db)
    if at_end == "longest":
        return BiasBuildUp("charging", last_db, None)
    fit = fit_at(time_s, level_db, log_tau) if at_end is None else None
    settled_db = float(np.mean(level_db)) if fit is None else fit.settled_db
    if fit is not None:
        short_db = -float(charge_db(time_s[-1:], fit.time_constant_s)[0])
        if short_db > thresholds.settled_within_db:
            return BiasBuildUp("charging", last_db, fit)
    return BiasBuildUp("low" if settled_db < thresholds.low_below_db else "settled", last_db, fit)


def charging_fit(time_s: FloatArray, level_db: FloatArray) -> ChargingFit:
    """Return the first-order charge that fits levels best.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Since the bias was switched on; rising, above zero; n >= 4.
    level_db : ndarray, shape (n,)
        Level of the panel's band.

    Returns
    -------
    ChargingFit
        Least squares in dB, because the scatter of a level is the same in dB at every level well
        above the noise; covariance from the residuals and the model's derivatives.

    Raises
    ------
    NoSignalError
        If there are fewer than four levels, one is not finite, or no charge is seen in them.
    ValueError
        If the shapes disagree or times do not rise from above zero.

    References
    ----------
    .. [1] Charging of a capacitor through a resistor; JCGM 100:2008, H.3, for the fit.
    """
    check_levels(time_s, level_db)
    log_tau, at_end = best_log_time_constant(time_s, level_db)
    if at_end is not None:
        raise NoSignalError(
            "The panel's level does not follow a charge.",
            "Start measuring right after the bias is switched on, and measure for longer.",
        )
    return fit_at(time_s, level_db, log_tau)


def check_levels(time_s: FloatArray, level_db: FloatArray) -> None:
    """Refuse levels that no charge can be read from."""
    if time_s.ndim != 1 or time_s.shape != level_db.shape:
        raise ValueError(f"need two shapes (n,); got {time_s.shape} and {level_db.shape}")
    if not np.isfinite(time_s).all() or np.any(time_s <= 0.0) or np.any(np.diff(time_s) <= 0.0):
        raise ValueError("times must be finite and rise from above zero")
    if time_s.size < FEWEST_POINTS or not np.isfinite(level_db).all():
        raise NoSignalError(
            "The panel's level was read too seldom to see its bias build up.",
            "Measure the panel at least four times after switching the bias on.",
        )


def charge_db(time_s: FloatArray, time_constant_s: float) -> FloatArray:
    """Return the level of a charge relative to its end."""
    level_db: FloatArray = DB_PER_NEPER * np.log(-np.expm1(-time_s / time_constant_s))
    return level_db


def best_log_time_constant(
    time_s: FloatArray, level_db: FloatArray
) -> tuple[float, Literal["shortest", "longest"] | None]:
    """Return the logarithm of the best time constant, and which end of the search it stands at."""

    def left(log_tau: float) -> float:
        rest = level_db - charge_db(time_s, math.exp(log_tau))
        rest = rest - rest.mean()  # the settled level that fits best
        return float(rest @ rest)

    grid = np.linspace(
        math.log(time_s[0] * SHORTEST_OF_FIRST),
        math.log(time_s[-1] * LONGEST_OF_LAST),
        SEARCHED_STEPS,
    )
    best = int(np.argmin([left(float(log_tau)) for log_tau in grid]))
    if best == 0:
        return float(grid[0]), "shortest"
    if best == grid.size - 1:
        return float(grid[-1]), "longest"
    found = scipy.optimize.minimize_scalar(
        left,
        bounds=(grid[best - 1], grid[best + 1]),
        method="bounded",
        options={"xatol": SEARCH_TOLERANCE},
    )
    return float(found.x), None


def fit_at(time_s: FloatArray, level_db: FloatArray, log_tau: float) -> ChargingFit:
    """Return the fit with this time constant, and its uncertainties."""
    tau_s = math.exp(log_tau)
    charged_db = charge_db(time_s, tau_s)
    settled_db = float(np.mean(level_db - charged_db))
    left_db = level_db - charged_db - settled_db
    variance = float(left_db @ left_db) / (time_s.size - 2)
    ratio = time_s / tau_s
    by_log_tau = DB_PER_NEPER * ratio * np.exp(-ratio) / np.expm1(-ratio)
    spread = by_log_tau - by_log_tau.mean()
    log_tau_u = math.sqrt(variance / float(spread @ spread))
    settled_u_db = math.hypot(
        math.sqrt(variance / time_s.size), float(by_log_tau.mean()) * log_tau_u
    )
    ninety = math.log(10.0)  # 1 - exp(-t / tau) = 0.9
    return ChargingFit(
        settled_db=settled_db,
        settled_u_db=settled_u_db,
        time_constant_s=tau_s,
        time_constant_u_s=tau_s * log_tau_u,
        ninety_percent_s=tau_s * ninety,
        ninety_percent_u_s=tau_s * ninety * log_tau_u,
        residual_db=math.sqrt(variance),
    )
