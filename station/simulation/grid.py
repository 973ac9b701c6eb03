"""The grid a run is computed on: padded time, its frequencies, and the low band of the cones.

Linear parts are solved at all frequencies. What depends on a cone's excursion is solved in the
lowest quarter only: above it excursions are nanometres, and a quarter of the rate makes the
relaxation four times cheaper.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import fft

from station.simulation.arrays import ComplexArray, FloatArray

PAD_S = 0.35  # a box at 30 Hz with a total Q of 1 has decayed by more than 280 dB
LOW_DIVISOR = 4
LOW_FADE_RATIO = 0.8  # the low band fades out over its last fifth
ALMOST_ZERO_HZ = 1e-4  # stands for 0 Hz, where a series capacitor has no impedance to compute


@dataclass(frozen=True)
class TimeGrid:
    """A run of `n_samples`, padded with silence so that no decay wraps round."""

    n_samples: int
    rate_hz: float

    @cached_property
    def n_padded(self) -> int:
        """Transform length: a multiple of the low band's divisor, quick to transform."""
        wanted = self.n_samples + round(PAD_S * self.rate_hz)
        step = 2 * LOW_DIVISOR
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

    @property
    def n_low(self) -> int:
        """Length of the low band's time signals."""
        return self.n_padded // LOW_DIVISOR

    @property
    def low_bins(self) -> int:
        """Number of frequencies in the low band."""
        return self.n_low // 2 + 1

    @cached_property
    def low_fade(self) -> FloatArray:
        """Weight of each low frequency: 1, then a raised cosine to 0 at the band's end."""
        ratio = np.arange(self.low_bins) / (self.low_bins - 1)
        fading = np.clip((ratio - LOW_FADE_RATIO) / (1.0 - LOW_FADE_RATIO), 0.0, 1.0)
        return np.asarray(0.5 + 0.5 * np.cos(np.pi * fading))

    def spectrum(self, signal: FloatArray) -> ComplexArray:
        """Return the spectrum of a signal, padded with zeros."""
        return np.asarray(fft.rfft(signal, self.n_padded))

    def signal(self, spectrum: ComplexArray) -> FloatArray:
        """Return the signal of a full-band spectrum, padding cut off."""
        return np.asarray(fft.irfft(spectrum, self.n_padded)[: self.n_samples])

    def low_signal(self, spectrum: ComplexArray) -> FloatArray:
        """Return the whole padded signal of a low-band spectrum at the low rate."""
        scale = 1.0 / LOW_DIVISOR
        return np.asarray(fft.irfft(spectrum, self.n_low) * scale)

    def low_spectrum(self, signal: FloatArray) -> ComplexArray:
        """Return the low-band spectrum of a padded signal at the low rate."""
        return np.asarray(fft.rfft(signal) * LOW_DIVISOR)

    def from_low(self, spectrum: ComplexArray) -> FloatArray:
        """Return the signal at the full rate of a low-band spectrum, padding cut off."""
        return self.signal(np.pad(spectrum, (0, self.n_padded // 2 + 1 - spectrum.size)))
