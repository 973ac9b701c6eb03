"""The grid a run is computed on: padded time, its frequencies, and bands of its low frequencies."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import fft

from station.simulation.arrays import ComplexArray, FloatArray

# A box at 30 Hz with a total Q of 1 has decayed by more than 280 dB after this. The creep of half a
# second with which a tight box gives way has not: at large signals H2 is up to 0.4 dB off.
PAD_S = 0.35
MOST_DIVISOR = 16
FADE_RATIO = 0.8  # a band fades out over its last fifth
OVERSAMPLED = 2  # squares of a band then fold nowhere, cubes only onto its very end
ALMOST_ZERO_HZ = 1e-4  # stands for 0 Hz, where a series capacitor has no impedance to compute


@dataclass(frozen=True)
class Band:
    """The lowest frequencies of a grid, and their waveforms at a rate to match."""

    n_padded: int
    divisor: int

    @property
    def bins(self) -> int:
        """Number of frequencies."""
        return self.n_padded // (2 * self.divisor) + 1

    @property
    def n_time(self) -> int:
        """Length of the waveforms, padding included."""
        return OVERSAMPLED * self.n_padded // self.divisor

    @cached_property
    def fade(self) -> FloatArray:
        """Weight of each frequency: 1, then a raised cosine to 0 at the band's end."""
        ratio = np.arange(self.bins) / (self.bins - 1)
        fading = np.clip((ratio - FADE_RATIO) / (1.0 - FADE_RATIO), 0.0, 1.0)
        return np.asarray(0.5 + 0.5 * np.cos(np.pi * fading))

    def signal(self, spectrum: ComplexArray) -> FloatArray:
        """Return the waveform of a grid's spectrum, limited to the band."""
        limited = spectrum[: self.bins] * self.fade
        return np.asarray(fft.irfft(limited, self.n_time) * (self.n_time / self.n_padded))

    def spectrum(self, signal: FloatArray) -> ComplexArray:
        """Return the spectrum of a waveform, limited to the band."""
        limited = fft.rfft(signal)[: self.bins] * self.fade
        return np.asarray(limited * (self.n_padded / self.n_time))


@dataclass(frozen=True)
class TimeGrid:
    """A run of `n_samples`, padded with silence so that no decay wraps round."""

    n_samples: int
    rate_hz: float

    @cached_property
    def n_padded(self) -> int:
        """Transform length: a multiple of every band's divisor, quick to transform."""
        wanted = self.n_samples + round(PAD_S * self.rate_hz)
        step = 2 * MOST_DIVISOR
        return step * int(fft.next_fast_len(-(-wanted // step), real=True))

    @cached_property
    def frequency_hz(self) -> FloatArray:
        """Frequencies of the full band, 0 Hz replaced by a frequency nothing happens at."""
        frequency_hz = fft.rfftfreq(self.n_padded, 1.0 / self.rate_hz)
        frequency_hz[0] = ALMOST_ZERO_HZ
        return np.asarray(frequency_hz, dtype=np.float64)

    @cached_property
    def s(self) -> ComplexArray:
        """Complex angular frequency jω in rad/s of the full band."""
        return np.asarray(2j * np.pi * self.frequency_hz)

    def band_to(self, highest_hz: float) -> Band:
        """Return the narrowest band that reaches a frequency."""
        ratio = 0.5 * self.rate_hz / highest_hz
        divisor = min(max(1, 2 ** math.floor(math.log2(ratio))), MOST_DIVISOR)
        return Band(self.n_padded, divisor)

    def spectrum(self, signal: FloatArray) -> ComplexArray:
        """Return the spectrum of a signal, padded with zeros."""
        return np.asarray(fft.rfft(signal, self.n_padded))

    def signal(self, spectrum: ComplexArray) -> FloatArray:
        """Return the signal of a full-band spectrum, padding cut off."""
        return np.asarray(fft.irfft(spectrum, self.n_padded)[: self.n_samples])

    def padded_signal(self, spectrum: ComplexArray) -> FloatArray:
        """Return the signal of a full-band spectrum with its padding."""
        return np.asarray(fft.irfft(spectrum, self.n_padded))
