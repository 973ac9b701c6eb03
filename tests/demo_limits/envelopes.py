"""From the curves of good units to breakpoints that a person can read and edit."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Widening:
    """How limits grow out of spread: so many sigma, never narrower than `least`, then rounded."""

    sigmas: float
    least: float
    step: float


def limits_of(curves: FloatArray, widening: Widening) -> tuple[FloatArray, FloatArray]:
    """Return lower and upper limit per frequency from curves of shape (n_units, n)."""
    centre = np.median(curves, axis=0)
    reach = np.maximum(widening.sigmas * curves.std(axis=0, ddof=1), widening.least)
    return centre - reach, centre + reach


def breakpoints(
    frequency_hz: FloatArray,
    lower: FloatArray,
    upper: FloatArray,
    per_octave: int,
    step: float,
) -> list[list[float]]:
    """Return [hz, lower, upper] rows whose interpolation never cuts into the limits."""
    span = math.log2(frequency_hz[-1] / frequency_hz[0])
    count = max(2, round(span * per_octave) + 1)
    at_hz = np.geomspace(frequency_hz[0], frequency_hz[-1], count)
    reach_hz = np.concatenate(([at_hz[0]], at_hz, [at_hz[-1]]))
    rows = []
    for index, hz in enumerate(at_hz):
        first_hz, last_hz = reach_hz[index], reach_hz[index + 2]
        near = (frequency_hz >= first_hz * 0.9999) & (frequency_hz <= last_hz * 1.0001)
        low = math.floor(float(lower[near].min()) / step) * step
        high = math.ceil(float(upper[near].max()) / step) * step
        rows.append([float(f"{hz:.5g}"), round(low, 4), round(high, 4)])
    rows[0][0] = math.floor(frequency_hz[0] * 100) / 100
    rows[-1][0] = math.ceil(frequency_hz[-1] * 100) / 100
    return rows
