"""Levels over frequency: the points of a band, and means over octaves."""

from __future__ import annotations

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.signals.bands import NOMINAL_RATIO
from station.errors import NoSignalError


def in_band(
    frequency_hz: FloatArray, level_db: FloatArray, from_hz: float, to_hz: float
) -> tuple[FloatArray, FloatArray]:
    """Return the points of one or more level curves between two frequencies.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, above zero.
    level_db : ndarray, shape (..., n)
        In dB; may hold NaN outside the band.
    from_hz, to_hz : float
        The band, in exact or nominal frequencies: 1 % beyond its ends belongs to it.

    Returns
    -------
    tuple of ndarray
        Frequencies, shape (m,), and levels, shape (..., m); m is 1 or more.

    Raises
    ------
    NoSignalError
        If there is no point in the band, or a level in it is not finite.
    ValueError
        If shapes disagree, frequencies do not rise, or the band is empty or upside down.

    References
    ----------
    .. [1] A selection; no source.
    """
    if frequency_hz.ndim != 1 or level_db.shape[-1:] != frequency_hz.shape:
        raise ValueError(f"need (n,) and (..., n); got {frequency_hz.shape} and {level_db.shape}")
    if np.any(frequency_hz <= 0.0) or np.any(np.diff(frequency_hz) <= 0.0):
        raise ValueError("frequencies must rise and be above zero")
    if not 0.0 < from_hz <= to_hz:
        raise ValueError(f"need 0 < from_hz <= to_hz; got {from_hz} and {to_hz}")
    inside = (frequency_hz >= from_hz / NOMINAL_RATIO) & (frequency_hz <= to_hz * NOMINAL_RATIO)
    levels = level_db[..., inside]
    if not inside.any() or not np.isfinite(levels).all():
        raise NoSignalError(
            f"The curve has gaps between {from_hz:.0f} and {to_hz:.0f} Hz.",
            "Measure again with a sweep that covers this band.",
        )
    return frequency_hz[inside], levels


def octave_weights(frequency_hz: FloatArray) -> FloatArray:
    """Return weights that make a sum over points a mean over octaves.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, above zero, n >= 1.

    Returns
    -------
    ndarray, shape (n,)
        Trapezoidal weights over log frequency, so that a finer grid somewhere has no more say;
        their sum is 1.

    Raises
    ------
    ValueError
        If there is no frequency, or they do not rise from above zero.

    References
    ----------
    .. [1] Trapezoidal rule.
    """
    if frequency_hz.size == 0 or frequency_hz[0] <= 0.0 or np.any(np.diff(frequency_hz) <= 0.0):
        raise ValueError("need one frequency or more, rising from above zero")
    if frequency_hz.size == 1:
        return np.ones(1)
    steps = np.diff(np.log2(frequency_hz))
    weights = np.zeros_like(frequency_hz)
    weights[:-1] += steps
    weights[1:] += steps
    normalised: FloatArray = weights / weights.sum()
    return normalised


def mean_level_db(
    frequency_hz: FloatArray, level_db: FloatArray, from_hz: float, to_hz: float
) -> FloatArray:
    """Return the mean of levels, in dB, over the octaves of a band.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, above zero.
    level_db : ndarray, shape (..., n)
        In dB.
    from_hz, to_hz : float
        The band.

    Returns
    -------
    ndarray, shape (...)
        Arithmetic mean of the dB values: of a difference between two curves it is the one
        number that says how much louder, and it is the same whichever comes first.

    Raises
    ------
    NoSignalError
        If there is no point in the band, or a level in it is not finite.
    ValueError
        As `in_band`.

    References
    ----------
    .. [1] A choice of ours; no source.
    """
    inside_hz, levels = in_band(frequency_hz, level_db, from_hz, to_hz)
    mean: FloatArray = np.asarray(levels @ octave_weights(inside_hz))
    return mean


def power_mean_db(level_db: FloatArray, weights: FloatArray) -> FloatArray:
    """Return the level of the mean power over the last axis.

    Parameters
    ----------
    level_db : ndarray, shape (..., n)
        In dB; NaN stays NaN.
    weights : ndarray, shape (n,)
        Sum 1.

    Returns
    -------
    ndarray, shape (...)
        In dB.

    Raises
    ------
    ValueError
        If the shapes disagree.

    References
    ----------
    .. [1] Mean of squared pressures, as IEC 60268-5 averages levels.
    """
    if level_db.shape[-1:] != weights.shape:
        raise ValueError(f"need (..., n) and (n,); got {level_db.shape} and {weights.shape}")
    loudest_db = np.max(level_db, axis=-1, keepdims=True)  # so that no power leaves the range
    power = 10.0 ** ((level_db - loudest_db) / 10.0) @ weights
    mean: FloatArray = np.asarray(10.0 * np.log10(power) + loudest_db[..., 0])
    return mean
