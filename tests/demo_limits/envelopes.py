"""From the readings of good units to limits, and to breakpoints that a person can read and edit."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

FloatArray = NDArray[np.float64]

SURE = 0.8  # that the spread of all production is no wider than taken here


@dataclass(frozen=True, slots=True)
class Rarity:
    """How seldom a good unit may lie outside the limits of one reading.

    `one_reading` is the share of units; where noise decides, so many sigmas stand for it.
    """

    one_reading: float = 1e-4
    noisy_sigmas: float = 5.0

    def sigmas(self, curves: FloatArray, *, noisy: bool) -> float:
        """Return how many standard deviations hold a whole curve, shape (n_units, n)."""
        return self.noisy_sigmas if noisy else joint_sigmas(curves, self.one_reading)


@dataclass(frozen=True, slots=True)
class Widening:
    """The least reach of limits to either side of the median, and the step they are rounded to.

    With `noisy` noise decides the reading, and its spread in dB is no normal one.
    """

    least: float
    step: float
    noisy: bool = False


def limits_of(
    curves: FloatArray, widening: Widening, rarity: Rarity
) -> tuple[FloatArray, FloatArray]:
    """Return lower and upper limit per frequency from curves of shape (n_units, n)."""
    centre = np.median(curves, axis=0)
    spread = curves.std(axis=0, ddof=1)
    sigmas = rarity.sigmas(curves, noisy=widening.noisy)
    reach = np.maximum(sigmas * spread, widening.least)
    return centre - reach, centre + reach


def joint_sigmas(curves: FloatArray, one_reading: float) -> float:
    """Return how many standard deviations hold a whole curve of all good units but that share.

    Neighbouring points move together, so that a curve has fewer independent ones than points: as
    many as explain how far the furthest point of a middling unit lies out (Sidak, J. Am. Stat.
    Assoc. 62, 1967). What n units may tell too little of the spread is added: a one-sided bound
    by chi-square.
    """
    members = curves.shape[0]
    standard = np.abs(curves - np.median(curves, axis=0)) / curves.std(axis=0, ddof=1)
    middling = float(np.median(standard.max(axis=1)))
    independent = max(1.0, math.log(0.5) / math.log1p(-2.0 * stats.norm.sf(middling)))
    each = -math.expm1(math.log1p(-one_reading) / independent)
    too_narrow = math.sqrt((members - 1) / stats.chi2.ppf(1.0 - SURE, members - 1))
    return float(stats.norm.isf(0.5 * each)) * too_narrow


def breakpoints(
    frequency_hz: FloatArray,
    lower: FloatArray,
    upper: FloatArray,
    per_octave: int,
    step: float,
) -> list[list[float]]:
    """Return [hz, lower, upper] rows whose interpolation never cuts into the limits.

    As many rows as there are frequencies stand on them, and follow even a steep curve closely.
    """
    span = math.log2(frequency_hz[-1] / frequency_hz[0])
    count = max(2, round(span * per_octave) + 1)
    everywhere = count >= frequency_hz.size
    at_hz = frequency_hz if everywhere else np.geomspace(frequency_hz[0], frequency_hz[-1], count)
    reach_hz = np.concatenate(([at_hz[0]], at_hz, [at_hz[-1]]))
    rows = []
    for index, hz in enumerate(at_hz):
        first_hz, last_hz = (hz, hz) if everywhere else (reach_hz[index], reach_hz[index + 2])
        near = (frequency_hz >= first_hz * 0.9999) & (frequency_hz <= last_hz * 1.0001)
        low = math.floor(float(lower[near].min()) / step) * step
        high = math.ceil(float(upper[near].max()) / step) * step
        rows.append([float(f"{hz:.5g}"), round(low, 4), round(high, 4)])
    rows[0][0] = math.floor(frequency_hz[0] * 100) / 100
    rows[-1][0] = math.ceil(frequency_hz[-1] * 100) / 100
    return rows
