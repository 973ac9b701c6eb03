"""How far a noise in the room may have moved what is read from the response as a number."""

from __future__ import annotations

import math

import numpy as np

from station.analysis.plan import FilterPlan, Plan
from station.analysis.readings import Curve
from station.analysis.statistics.population import PatternModel

# At its corner a filter falls by more than this: one of the first order by 3 dB an octave.
LEAST_SLOPE_DB = 3.0


def derived_shifts(response: Curve, plan: Plan) -> dict[str, float]:
    """Return bounds on filter and pattern readings, each in its own unit.

    Parameters
    ----------
    response : Curve
        Bound in dB on how far the room may have moved the response.
    plan : Plan
        What was computed.

    Returns
    -------
    dict of str to float
        By reading name; of readings that the plan asks for and that are read from the response.

    Raises
    ------
    ValueError
        If the pattern's frequencies are not the response's.

    References
    ----------
    .. [1] Bounds of our own: the largest that a change within the curve's bound can make.
    """
    shifts: dict[str, float] = {}
    if plan.filter is not None:
        shifts |= filter_shifts(response, plan.filter)
    if plan.pattern is not None and plan.pattern.curve == "response":
        shifts |= pattern_shifts(response, plan.pattern.model)
    return shifts


def filter_shifts(response: Curve, plan: FilterPlan) -> dict[str, float]:
    """Return the bounds on corner and slope.

    The corner moves with passband and flank moved apart; the slope of a regression over so many
    octaves by three times the bound over them, the lower half of the span moved one way and the
    upper half the other: 1/4 over 1/12, the means of |x| and of x² over a span of one.
    """
    edges_hz = (plan.passband_from_hz, plan.passband_to_hz, plan.slope_from_hz, plan.slope_to_hz)
    hz = response.frequency_hz
    inside = (hz >= min(edges_hz)) & (hz <= max(edges_hz))
    moved_db = float(np.max(response.values[inside], initial=0.0))
    highest_hz = max(plan.slope_from_hz, plan.passband_from_hz)
    octaves = math.log2(plan.slope_to_hz / plan.slope_from_hz)
    return {
        "filter_corner": highest_hz * (2.0 ** (2.0 * moved_db / LEAST_SLOPE_DB) - 1.0),
        "filter_slope": 3.0 * moved_db / octaves,
    }


def pattern_shifts(response: Curve, model: PatternModel) -> dict[str, float]:
    """Return the bounds on the distances, every frequency moved the way that adds most."""
    if response.values.shape != model.mean.shape:
        raise ValueError("the bound is not on the model's frequencies")
    along = np.abs(model.modes) @ response.values / model.mode_spread
    # What the modes take out may come back at another frequency, never more than it was in all.
    taken = np.abs(model.modes).T @ (np.abs(model.modes) @ response.values)
    beside = (response.values + taken) / model.rest_spread
    modes, rest = math.sqrt(float(np.mean(along**2))), math.sqrt(float(np.mean(beside**2)))
    return {
        "pattern.modes": modes,
        "pattern.rest": rest,
        "pattern.distance": math.sqrt(0.5 * (modes**2 + rest**2)),
    }
