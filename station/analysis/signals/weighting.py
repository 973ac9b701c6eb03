"""Frequency weightings A, C and Z, and levels of sound pressure."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.signals.soundpressure import REFERENCE_PRESSURE_PA
from station.errors import NoSignalError

Weighting = Literal["A", "C", "Z"]

# IEC 61672-1:2013, annex E: the weightings are defined by these frequencies, not by their poles.
REFERENCE_HZ = 1000.0
LOW_HALF_POWER_HZ = 10.0**1.5
HIGH_HALF_POWER_HZ = 10.0**3.9
A_HIGH_PASS_HZ = 10.0**2.45


def pole_frequencies() -> tuple[float, float, float, float]:
    """Return the four pole frequencies of the A weighting.

    Returns
    -------
    tuple of float
        f1, f2, f3 and f4 in Hz, rising; the C weighting has f1 and f4 only.

    References
    ----------
    .. [1] IEC 61672-1:2013, annex E: f1 and f4 make the C weighting fall by half its power, from
       1 kHz, at 10^1.5 Hz and 10^3.9 Hz; f2 and f3 are a first-order high-pass at 10^2.45 Hz
       taken twice.
    """
    share = math.sqrt(0.5)
    squares = LOW_HALF_POWER_HZ**2 * HIGH_HALF_POWER_HZ**2
    b = (
        REFERENCE_HZ**2
        + squares / REFERENCE_HZ**2
        - share * (LOW_HALF_POWER_HZ**2 + HIGH_HALF_POWER_HZ**2)
    ) / (1.0 - share)
    spread = math.sqrt(b * b - 4.0 * squares)
    f1_hz = math.sqrt((-b - spread) / 2.0)
    f4_hz = math.sqrt((-b + spread) / 2.0)
    f2_hz = (3.0 - math.sqrt(5.0)) / 2.0 * A_HIGH_PASS_HZ
    f3_hz = (3.0 + math.sqrt(5.0)) / 2.0 * A_HIGH_PASS_HZ
    return f1_hz, f2_hz, f3_hz, f4_hz


def weighting_power_ratio(frequency_hz: FloatArray, weighting: Weighting) -> FloatArray:
    """Return a weighting as the factor on mean-square pressure.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Zero or above.
    weighting : {"A", "C", "Z"}
        Z is flat.

    Returns
    -------
    ndarray, shape (n,)
        Ratio of powers, 1 at 1 kHz; A and C are zero at 0 Hz.

    Raises
    ------
    ValueError
        If a frequency is negative or not finite, or the weighting is not one of the three.

    References
    ----------
    .. [1] IEC 61672-1:2013, annex E, analytical expressions. The standard tabulates 10 Hz to
       20 kHz; beyond, the expressions are continued.
    """
    if not np.isfinite(frequency_hz).all() or np.any(frequency_hz < 0.0):
        raise ValueError("frequencies must be finite and zero or above")
    if weighting == "Z":
        return np.ones_like(frequency_hz)
    if weighting not in ("A", "C"):
        raise ValueError(f"the weighting must be A, C or Z; got {weighting}")
    at_reference = pole_power(np.array([REFERENCE_HZ]), weighting)
    ratio: FloatArray = pole_power(frequency_hz, weighting) / at_reference
    return ratio


def weighting_db(frequency_hz: FloatArray, weighting: Weighting) -> FloatArray:
    """Return a weighting in dB.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Above zero.
    weighting : {"A", "C", "Z"}
        Z is flat.

    Returns
    -------
    ndarray, shape (n,)
        In dB, 0 at 1 kHz.

    Raises
    ------
    ValueError
        If a frequency is not above zero or not finite, or the weighting is unknown.

    References
    ----------
    .. [1] IEC 61672-1:2013, annex E and table 3.
    """
    if np.any(frequency_hz <= 0.0):
        raise ValueError("a weighting has a finite level above 0 Hz only")
    level_db: FloatArray = 10.0 * np.log10(weighting_power_ratio(frequency_hz, weighting))
    return level_db


def level_db_spl(pressure_pa: FloatArray) -> FloatArray:
    """Return sound pressure levels.

    Parameters
    ----------
    pressure_pa : ndarray, any shape
        RMS pressure in Pa.

    Returns
    -------
    ndarray, shape of the input
        In dB re 20 µPa.

    Raises
    ------
    NoSignalError
        If a pressure is zero, negative or not finite: it has no level.

    References
    ----------
    .. [1] IEC 61672-1:2013, sound pressure level and its reference value.
    """
    if not np.isfinite(pressure_pa).all() or np.any(pressure_pa <= 0.0):
        raise NoSignalError(
            "No sound pressure was recorded.", "Check the microphone and its cable."
        )
    level: FloatArray = np.asarray(20.0 * np.log10(pressure_pa / REFERENCE_PRESSURE_PA))
    return level


def pressure_of_level(level_db_spl: FloatArray) -> FloatArray:
    """Return RMS pressures.

    Parameters
    ----------
    level_db_spl : ndarray, any shape
        In dB re 20 µPa.

    Returns
    -------
    ndarray, shape of the input
        In Pa: 94 dB is 1.0024 Pa.

    Raises
    ------
    ValueError
        If a level is not finite.

    References
    ----------
    .. [1] IEC 61672-1:2013, sound pressure level, solved for the pressure.
    """
    if not np.isfinite(level_db_spl).all():
        raise ValueError("levels must be finite")
    pressure_pa: FloatArray = np.asarray(REFERENCE_PRESSURE_PA * 10.0 ** (level_db_spl / 20.0))
    return pressure_pa


def pole_power(frequency_hz: FloatArray, weighting: Weighting) -> FloatArray:
    """Return the power of the A or C weighting's poles and zeros, before it is one at 1 kHz."""
    f1_hz, f2_hz, f3_hz, f4_hz = pole_frequencies()
    square = frequency_hz**2
    amplitude = f4_hz**2 * square / ((square + f1_hz**2) * (square + f4_hz**2))
    if weighting == "A":
        amplitude = amplitude * square / np.sqrt((square + f2_hz**2) * (square + f3_hz**2))
    power: FloatArray = amplitude**2
    return power
