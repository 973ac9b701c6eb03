"""Mains hum: the levels of the mains frequency and its multiples in a quiet recording."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft

from station.analysis.arrays import ComplexArray, FloatArray, read_only
from station.analysis.signals.quietrecording import hann, without_mean
from station.analysis.signals.spectra import even_fast_length
from station.analysis.signals.weighting import level_db_spl

MAINS_TOLERANCE_HZ = 0.5  # EN 50160: 50 Hz within 1 % for 99.5 % of a year
HANN_NOISE_BINS = 1.5  # noise bandwidth of a Hann window in bins (Harris, Proc. IEEE 66(1), 1978)

# The spectrum about the hum is read on a grid so much finer than the recording's own bins, and
# kept up to so much above the highest line.
FINER = 16
KEPT_ABOVE_RATIO = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Hum:
    """Mains frequency and its harmonics in a quiet recording.

    Parameters
    ----------
    nominal_hz, mains_hz : float
        50 or 60, and the true frequency that fits best within 0.5 Hz of it.
    frequency_hz : ndarray, shape (orders,)
        1 to n times `mains_hz`.
    level_db_spl : ndarray, shape (orders,)
        Level of each, including the noise in `resolution_hz`.
    floor_db_spl : ndarray, shape (orders,)
        Level of the noise beside each in the same bandwidth: a line near its floor is not heard.
    total_db_spl : float
        All of them together.
    prominence_db : float
        Mean power of the lines relative to their floors; noise alone reaches 3 dB to 5 dB,
        because the frequency is sought that makes it largest.
    resolution_hz : float
        Noise bandwidth of a line, 1.5 over the recording's length.
    """

    nominal_hz: float
    mains_hz: float
    frequency_hz: FloatArray
    level_db_spl: FloatArray
    floor_db_spl: FloatArray
    total_db_spl: float
    prominence_db: float
    resolution_hz: float

    def __post_init__(self) -> None:
        for name in ("frequency_hz", "level_db_spl", "floor_db_spl"):
            object.__setattr__(self, name, read_only(getattr(self, name)))


def mains_hum(pressure_pa: FloatArray, rate_hz: float, nominal_hz: float, orders: int) -> Hum:
    """Return the levels of a mains frequency and its multiples.

    Parameters
    ----------
    pressure_pa : ndarray, shape (n,)
        Sound pressure in Pa, 0.25 s or longer; its mean is taken off.
    rate_hz : float
        Sampling rate.
    nominal_hz : float
        50 or 60; the true one is sought within 0.5 Hz.
    orders : int
        How many multiples, from 1.

    Returns
    -------
    Hum
        Each amplitude is that of a discrete Fourier transform with a Hann window at exactly the
        multiple's frequency. The floor is the median of the power over the whole space between
        two lines, as a mean (over ln 2: the power of noise is distributed exponentially). The
        mains frequency is the one that makes the sum of all lines over their floors largest.

    Raises
    ------
    NoSignalError
        If the recording is shorter than 0.25 s, silent, or not finite.
    ValueError
        If the shape is not (n,), the rate not positive, or the highest line not below half of it.

    References
    ----------
    .. [1] Harris, "On the use of windows for harmonic analysis with the discrete Fourier
       transform", Proc. IEEE 66(1), 1978.
    """
    pressure_pa = without_mean(pressure_pa, rate_hz)
    order = np.arange(1, orders + 1, dtype=np.float64)
    top_hz = (orders + 0.5) * (nominal_hz + MAINS_TOLERANCE_HZ)
    if orders < 1 or top_hz >= 0.5 * rate_hz:
        raise ValueError(f"{orders} multiples of {nominal_hz} Hz need 1 or more and {rate_hz} Hz")
    lines = LineSpectrum.of(pressure_pa, rate_hz, top_hz)
    floor = lines.floor(order * nominal_hz, nominal_hz)
    mains_hz = lines.best_fundamental(nominal_hz, order, floor)
    power = lines.exact(order * mains_hz)
    return Hum(
        nominal_hz=nominal_hz,
        mains_hz=mains_hz,
        frequency_hz=order * mains_hz,
        level_db_spl=level_db_spl(np.sqrt(power)),
        floor_db_spl=level_db_spl(np.sqrt(floor)),
        total_db_spl=float(level_db_spl(np.asarray(math.sqrt(float(power.sum()))))),
        prominence_db=10.0 * math.log10(float(np.mean(power / floor))),
        resolution_hz=HANN_NOISE_BINS / lines.length_s,
    )


@dataclass(frozen=True, slots=True, eq=False)
class LineSpectrum:
    """The low end of a windowed recording's spectrum, between its bins.

    Parameters
    ----------
    windowed : ndarray, shape (m,)
        The windowed recording with only its low frequencies left, on as few samples as hold them.
    length_s : float
        How long they last.
    scale : float
        Turns the squared magnitude of a transform of `windowed` into the mean square of a sine.
    power_pa2 : ndarray
        Mean square of a sine at each multiple of 1 / (16 length_s).
    """

    windowed: FloatArray
    length_s: float
    scale: float
    power_pa2: FloatArray

    @classmethod
    def of(cls, pressure_pa: FloatArray, rate_hz: float, top_hz: float) -> LineSpectrum:
        """Return the spectrum up to a frequency and as much again, for what lies between bins."""
        n = pressure_pa.size
        length_s = n / rate_hz
        window = hann(n)
        spectrum: ComplexArray = scipy.fft.rfft(window * pressure_pa)
        bins = math.ceil(KEPT_ABOVE_RATIO * top_hz * length_s)
        kept = min(even_fast_length(2 * bins) // 2 + 1, spectrum.size)
        windowed = scipy.fft.irfft(spectrum[:kept], 2 * (kept - 1))
        scale = 2.0 / float(window.sum()) ** 2
        fine = scipy.fft.rfft(windowed, FINER * windowed.size)
        return cls(windowed, length_s, scale, scale * np.abs(fine) ** 2)

    def near(self, frequency_hz: FloatArray) -> FloatArray:
        """Return the power at frequencies, interpolated on the fine grid."""
        place = frequency_hz * (self.length_s * FINER)
        before = place.astype(np.int64)
        share = place - before
        power: FloatArray = (1.0 - share) * self.power_pa2[before] + share * self.power_pa2[
            before + 1
        ]
        return power

    def exact(self, frequency_hz: FloatArray) -> FloatArray:
        """Return the power at frequencies, transformed at each of them."""
        time_s = np.arange(self.windowed.size) * (self.length_s / self.windowed.size)
        sums = [np.exp(-2j * np.pi * each * time_s) @ self.windowed for each in frequency_hz]
        power: FloatArray = self.scale * np.abs(np.array(sums)) ** 2
        return power

    def floor(self, frequency_hz: FloatArray, width_hz: float) -> FloatArray:
        """Return the noise power about frequencies, never below what rounding leaves."""
        edges = (frequency_hz[:, np.newaxis] + width_hz * np.array([-0.5, 0.5])) * (
            self.length_s * FINER
        )
        found = [np.median(self.power_pa2[round(low) : round(high)]) for low, high in edges]
        numbers = np.finfo(np.float64)
        rounding = max(float(np.max(self.power_pa2)) * numbers.eps**2, numbers.tiny)
        power: FloatArray = np.maximum(np.array(found) / math.log(2.0), rounding)
        return power

    def best_fundamental(
        self,
        nominal_hz: float,
        order: FloatArray,
        floor: FloatArray,
    ) -> float:
        """Return the fundamental whose multiples stand out most from their floors."""
        steps = math.ceil(MAINS_TOLERANCE_HZ * order.size * self.length_s * FINER)
        tried_hz = nominal_hz + np.linspace(-MAINS_TOLERANCE_HZ, MAINS_TOLERANCE_HZ, 2 * steps + 1)
        heard = sum(
            self.near(n * tried_hz) / beside for n, beside in zip(order, floor, strict=True)
        )
        return float(tried_hz[int(np.argmax(heard))])
