"""What a powered unit lets hear while it should be silent: weighted level and mains hum."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy.fft

from station.analysis.acoustic.mainshum import Hum, mains_hum
from station.analysis.arrays import FloatArray
from station.analysis.signals.quietrecording import hann, without_mean
from station.analysis.signals.weighting import Weighting, level_db_spl, weighting_power_ratio

MAINS_HZ = (50.0, 60.0)
SEGMENT_S = 1.0


@dataclass(frozen=True, slots=True)
class IdleNoise:
    """Level of the idle noise, and the hum in it.

    Attributes
    ----------
    a_weighted_db_spl : float
        Equivalent continuous level, A-weighted.
    hum : Hum
        Of the mains frequency, 50 or 60 Hz, whose lines stand out more.
    mains_fits : bool
        Whether they stand out enough to say that there is hum.
    """

    a_weighted_db_spl: float
    hum: Hum
    mains_fits: bool


def idle_noise(
    pressure_pa: FloatArray, rate_hz: float, orders: int, stands_out_db: float
) -> IdleNoise:
    """Return the A-weighted level and the mains hum of a quiet recording.

    Parameters
    ----------
    pressure_pa : ndarray, shape (n,)
        Sound pressure in Pa, 0.25 s or longer.
    rate_hz : float
        Sampling rate.
    orders : int
        How many multiples of the mains frequency to read.
    stands_out_db : float
        Prominence from which lines count as hum.

    Returns
    -------
    IdleNoise
        With the levels of the lines in any case, whether they count as hum or not.

    Raises
    ------
    NoSignalError
        If the recording is shorter than 0.25 s, silent, or not finite.
    ValueError
        As `mains_hum`.

    References
    ----------
    .. [1] IEC 61672-1:2013, time-averaged sound level.
    """
    hums = [mains_hum(pressure_pa, rate_hz, nominal_hz, orders) for nominal_hz in MAINS_HZ]
    hum = max(hums, key=lambda each: each.prominence_db)
    level = equivalent_level_db_spl(pressure_pa, rate_hz, "A")
    return IdleNoise(level, hum, hum.prominence_db >= stands_out_db)


def equivalent_level_db_spl(pressure_pa: FloatArray, rate_hz: float, weighting: Weighting) -> float:
    """Return the weighted time-averaged level of a recording.

    Parameters
    ----------
    pressure_pa : ndarray, shape (n,)
        Sound pressure in Pa, 0.25 s or longer; its mean is taken off.
    rate_hz : float
        Sampling rate.
    weighting : {"A", "C", "Z"}
        Frequency weighting.

    Returns
    -------
    float
        In dB re 20 µPa, over all frequencies up to half the rate.

    Raises
    ------
    NoSignalError
        If the recording is shorter than 0.25 s, silent, or not finite.
    ValueError
        If the shape is not (n,), the rate not positive, or the weighting unknown.

    Notes
    -----
    The weighting is applied to an averaged power spectrum (Welch: Hann segments of 1 s or the
    whole recording, overlapping by half or more so that they end with it). A filter in time would
    start from zero and spend its first tenth of a second settling, which a short recording does
    not have; a spectrum without a window would leak hum to where the weighting is 30 dB higher.
    The bins are 1 Hz wide (4 Hz for 0.25 s): a tone at 50 Hz reads high by 0.003 dB (0.06 dB).
    The recording's first and last quarter second weigh less.

    References
    ----------
    .. [1] IEC 61672-1:2013, time-averaged sound level, and annex E.
    .. [2] Welch, IEEE Trans. Audio Electroacoust. 15(2), 1967.
    """
    pressure_pa = without_mean(pressure_pa, rate_hz)
    length = min(pressure_pa.size, round(SEGMENT_S * rate_hz))
    last = pressure_pa.size - length
    starts = np.linspace(0, last, 1 + math.ceil(2 * last / length)).round().astype(np.int64)
    window = hann(length)
    weights = bin_weights(length, rate_hz, weighting)
    mean_square = 0.0
    for start in starts:
        spectrum = scipy.fft.rfft(window * pressure_pa[start : start + length])
        mean_square += float(weights @ np.abs(spectrum) ** 2)
    mean_square /= starts.size * length * float(window @ window)
    return float(level_db_spl(np.asarray(math.sqrt(mean_square))))


@lru_cache(maxsize=8)
def bin_weights(length: int, rate_hz: float, weighting: Weighting) -> FloatArray:
    """Return what each bin of a real transform counts in a weighted mean square; read-only."""
    frequency_hz = np.arange(length // 2 + 1, dtype=np.float64) * (rate_hz / length)
    weights: FloatArray = one_sided(length) * weighting_power_ratio(frequency_hz, weighting)
    weights.flags.writeable = False
    return weights


def one_sided(length: int) -> FloatArray:
    """Return how often each bin of a real transform stands for a frequency of either sign."""
    counts = np.full(length // 2 + 1, 2.0)
    counts[0] = 1.0
    if length % 2 == 0:
        counts[-1] = 1.0
    return counts
