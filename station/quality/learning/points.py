"""Few breakpoints a person can edit, around limits that were computed point by point."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.optimize

from station.analysis.arrays import FloatArray

OUTER_DIGITS = 5  # of a breakpoint's frequency; the ends are rounded outwards
DIVISIONS = 16.0  # a limit is rounded, outwards, to a power of ten within this part of the width


@dataclass(frozen=True, slots=True)
class Breakpoint:
    """Limits at one frequency; an open side is infinite."""

    hz: float
    lower: float
    upper: float


def enclosing_points(
    frequency_hz: FloatArray, lower: FloatArray, upper: FloatArray, room: FloatArray
) -> tuple[Breakpoint, ...]:
    """Return breakpoints whose band encloses limits everywhere, and exceeds them by little.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, n >= 2.
    lower, upper : ndarray, shape (n,)
        Limits point by point; a side that is open is infinite throughout.
    room : ndarray, shape (n,)
        How far the band may lie beyond the limits, above zero.

    Returns
    -------
    tuple of Breakpoint
        Rounded outwards.

    Notes
    -----
    The breakpoints lie at given frequencies, the fewest whose chords stay within half the room of
    the limits. Their values are those with the least sum of excesses of all bands that enclose
    the limits, a linear programme; where one still lies beyond the room, a breakpoint is added.
    """
    chosen = fewest_breakpoints(frequency_hz, lower, upper, room)
    while True:
        knots_hz = np.array(outer_frequencies(frequency_hz[chosen]))
        low, high = enclosing_values(frequency_hz, lower, upper, knots_hz)
        excess = excess_of(frequency_hz, lower, upper, knots_hz, low, high) / room
        excess[chosen] = 0.0
        if excess.max() <= 1.0:
            break
        chosen = sorted({*chosen, int(np.argmax(excess))})
    step = rounding_step(lower, upper, room)
    return tuple(
        Breakpoint(float(hz), rounded(floor, step, math.floor), rounded(ceiling, step, math.ceil))
        for hz, floor, ceiling in zip(knots_hz, low, high, strict=True)
    )


def fewest_breakpoints(
    frequency_hz: FloatArray, lower: FloatArray, upper: FloatArray, room: FloatArray
) -> list[int]:
    """Return the fewest points, both ends among them, whose chords stay near the limits."""
    count = frequency_hz.size
    at = np.log(frequency_hz)
    known = [limit for limit in (lower, upper) if np.isfinite(limit).all()]
    fewest = np.full(count, count)
    fewest[0] = 0
    before = np.zeros(count, dtype=np.intp)
    for first in range(count - 1):
        for last in range(first + 1, count):
            if fewest[first] + 1 < fewest[last] and all(
                chord_is_near(at, limit, room, first, last) for limit in known
            ):
                fewest[last], before[last] = fewest[first] + 1, first
    chosen = [count - 1]
    while chosen[-1] != 0:
        chosen.append(int(before[chosen[-1]]))
    return chosen[::-1]


def chord_is_near(
    at: FloatArray, limit: FloatArray, room: FloatArray, first: int, last: int
) -> bool:
    """Return whether a straight line between two points stays within half the room of a limit."""
    inner = slice(first, last + 1)
    slope = (limit[last] - limit[first]) / (at[last] - at[first])
    off = limit[inner] - limit[first] - slope * (at[inner] - at[first])
    return bool(np.all(np.abs(off) <= 0.5 * room[inner]))


def excess_of(
    frequency_hz: FloatArray,
    lower: FloatArray,
    upper: FloatArray,
    knots_hz: FloatArray,
    low: FloatArray,
    high: FloatArray,
) -> FloatArray:
    """Return how far a band on some breakpoints lies beyond limits."""
    at = np.log(frequency_hz)
    excess = np.zeros(frequency_hz.size)
    if np.isfinite(lower[0]):
        excess = np.maximum(excess, lower - np.interp(at, np.log(knots_hz), low))
    if np.isfinite(upper[0]):
        excess = np.maximum(excess, np.interp(at, np.log(knots_hz), high) - upper)
    return excess


def enclosing_values(
    frequency_hz: FloatArray, lower: FloatArray, upper: FloatArray, knots_hz: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return lower and upper values at breakpoints, of the tightest band that encloses limits."""
    return -tightest_above(frequency_hz, -lower, knots_hz), tightest_above(
        frequency_hz, upper, knots_hz
    )


def tightest_above(frequency_hz: FloatArray, limit: FloatArray, knots_hz: FloatArray) -> FloatArray:
    """Return the values at breakpoints of the lowest line that stays at or above a limit."""
    if not np.isfinite(limit[0]):
        return np.full(knots_hz.size, limit[0])
    at = np.log(frequency_hz)
    knots = np.log(knots_hz)
    weights = np.stack([np.interp(at, knots, unit) for unit in np.eye(knots.size)], axis=1)
    found = scipy.optimize.linprog(
        weights.sum(axis=0), A_ub=-weights, b_ub=-limit, bounds=(None, None), method="highs"
    )
    if found.x is None:
        raise ValueError(f"no line encloses these limits: {found.message}")
    line: FloatArray = found.x
    # What the solver's tolerance leaves below the limit is lifted off with the whole line.
    return line + max(0.0, float(np.max(limit - weights @ line)))


def rounding_step(lower: FloatArray, upper: FloatArray, room: FloatArray) -> float:
    """Return the power of ten that limits are rounded to: within the room, or within the width."""
    width = np.min(upper - lower) / DIVISIONS if np.isfinite(upper - lower).all() else np.min(room)
    return power_of_ten_below(float(min(width, np.max(room))))


def power_of_ten_below(size: float) -> float:
    """Return the power of ten at or below a size."""
    return 10.0 ** math.floor(math.log10(size))


def rounded(value: float, step: float, towards: Callable[[float], int]) -> float:
    """Return a value rounded to a step, up or down; an infinite one as it is."""
    if not math.isfinite(value):
        return float(value)
    return float(f"{towards(value / step) * step:.12g}")


def outer_frequencies(frequency_hz: FloatArray) -> list[float]:
    """Return frequencies to few digits, the first rounded down and the last up."""
    rounds: list[Callable[[float], int]] = [round] * frequency_hz.size
    rounds[0], rounds[-1] = math.floor, math.ceil
    found = []
    for hz, towards in zip(frequency_hz, rounds, strict=True):
        step = 10.0 ** (math.floor(math.log10(hz)) + 1 - OUTER_DIGITS)
        found.append(float(f"{towards(hz / step) * step:.12g}"))
    return found
