"""Resonance and quality factors by the classic three points, as a check on the fit."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.electric.impedance import ImpedanceResult
from station.analysis.electric.resonance import between, interior_peak, no_peak
from station.analysis.plan import ResonancePlan


@dataclass(frozen=True, slots=True)
class ThreePointResult:
    """The peak and the two frequencies beside it where |Z| is the mean of peak and Re.

    Attributes
    ----------
    fs_hz : float
        Geometric mean of the two frequencies.
    f1_hz, f2_hz : float
        Where |Z| is the geometric mean of `peak_ohm` and Re, below and above the peak.
    qms, qes, qts : float
        Mechanical, electrical and total quality factor.
    peak_ohm : float
        Largest |Z|.
    """

    fs_hz: float
    f1_hz: float
    f2_hz: float
    qms: float
    qes: float
    qts: float
    peak_ohm: float


def three_point_resonance(
    measured: ImpedanceResult, plan: ResonancePlan, re_ohm: float
) -> ThreePointResult:
    """Return resonance and quality factors by the classic method, as a check on the fit.

    Parameters
    ----------
    measured : ImpedanceResult
        With every bin of the complex impedance.
    plan : ResonancePlan
        The band that holds the peak and both its skirts.
    re_ohm : float
        Resistance of the voice coil, from elsewhere.

    Returns
    -------
    ThreePointResult
        Good for a driver in free air or in its box with nothing else at its terminals; what the
        coil's inductance adds is not taken out.

    Raises
    ------
    NoSignalError
        If there is no peak above `re_ohm`, or a skirt does not come down far enough in the band.
    ValueError
        If `re_ohm` is not above zero.

    References
    ----------
    .. [1] Small, J. Audio Eng. Soc. 20(5), 1972, appendix on measuring the parameters.
    """
    if re_ohm <= 0.0:
        raise ValueError(f"need a resistance above zero; got {re_ohm} Ω")
    frequency_hz, z_ohm = between(measured, plan.from_hz, plan.to_hz)
    magnitude_ohm = np.abs(z_ohm)
    peak = interior_peak(magnitude_ohm)
    peak_ohm = parabola_top(magnitude_ohm[peak - 1 : peak + 2])
    level_ohm = math.sqrt(peak_ohm * re_ohm)
    below = np.flatnonzero(magnitude_ohm[:peak] < level_ohm)
    above = np.flatnonzero(magnitude_ohm[peak:] < level_ohm)
    if peak_ohm <= re_ohm or below.size == 0 or above.size == 0:
        raise no_peak()
    f1_hz = crossing(frequency_hz, magnitude_ohm, int(below[-1]), level_ohm)
    f2_hz = crossing(frequency_hz, magnitude_ohm, peak + int(above[0]) - 1, level_ohm)
    fs_hz = math.sqrt(f1_hz * f2_hz)
    qms, qes = quality_factors(fs_hz, f1_hz, f2_hz, peak_ohm / re_ohm)
    return ThreePointResult(fs_hz, f1_hz, f2_hz, qms, qes, qms * qes / (qms + qes), peak_ohm)


def quality_factors(
    fs_hz: float, f1_hz: float, f2_hz: float, peak_ratio: float
) -> tuple[float, float]:
    """Return the mechanical and the electrical quality factor of an impedance peak.

    Parameters
    ----------
    fs_hz : float
        Frequency of the peak.
    f1_hz, f2_hz : float
        Where |Z| is the geometric mean of its peak and Re.
    peak_ratio : float
        Peak over Re.

    Returns
    -------
    tuple of float
        Qms = fs sqrt(r) / (f2 - f1) and Qes = Qms / (r - 1).

    Raises
    ------
    ValueError
        If the frequencies do not rise, or the peak is not above Re.

    References
    ----------
    .. [1] Small, J. Audio Eng. Soc. 20(5), 1972.
    """
    if not f1_hz < fs_hz < f2_hz or peak_ratio <= 1.0:
        raise ValueError("need f1 < fs < f2 and a peak above Re")
    qms = fs_hz * math.sqrt(peak_ratio) / (f2_hz - f1_hz)
    return qms, qms / (peak_ratio - 1.0)


def parabola_top(values: FloatArray) -> float:
    """Return the top of the parabola through three evenly spaced values, the middle one largest."""
    before, at, after = (float(value) for value in values)
    bend = before - 2.0 * at + after
    return at if bend == 0.0 else at - (before - after) ** 2 / (8.0 * bend)


def crossing(
    frequency_hz: FloatArray, magnitude_ohm: FloatArray, before: int, level_ohm: float
) -> float:
    """Return where |Z| passes a level between a bin and the next."""
    low, high = magnitude_ohm[before], magnitude_ohm[before + 1]
    share = (level_ohm - low) / (high - low)
    return float(frequency_hz[before] + share * (frequency_hz[before + 1] - frequency_hz[before]))
