"""The spectra of a recording's channels, and the inverse sweep that pulls them apart in time."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np
import scipy.fft

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.recording import Recording, Role
from station.analysis.signals.microphoneresponse import corrected
from station.analysis.signals.sweep import FADE_OUT_OCTAVES, Sweep, sweep_spectrum

TRANSFORMED_ROLES: tuple[Role, ...] = ("microphone", "voltage", "current", "rear")

# The start is searched coarsely below COARSE_TO_HZ, then on few bins over the whole sweep.
COARSE_TO_HZ = 12_000.0
FINE_BINS = 1_000
FINE_FROM_HZ = 200.0
FINE_STEPS = 16


@dataclass(frozen=True, slots=True, eq=False)
class Spectra:
    """Discrete Fourier transforms of the channels that the readings are computed from.

    The arrays are made read-only without a copy: they are the largest of a measurement.

    Parameters
    ----------
    sweep : Sweep
        The stimulus.
    n : int
        Length of the transform in samples; the recording was padded with zeros to it.
    frequency_hz : ndarray, shape (n // 2 + 1,)
        Of each bin.
    by_role : mapping of Role to ndarray, shape (n // 2 + 1,)
        Plain sums over the samples in Pa, V or A, as `scipy.fft.rfft` gives them.
    start_s : float
        When the sweep's first sample stands in the voltage channel, counted from the
        recording's first sample; with fractions of a sample.
    """

    sweep: Sweep
    n: int
    frequency_hz: FloatArray
    by_role: Mapping[Role, ComplexArray]
    start_s: float

    def __post_init__(self) -> None:
        for array in (self.frequency_hz, *self.by_role.values()):
            array.flags.writeable = False
        object.__setattr__(self, "by_role", MappingProxyType(dict(self.by_role)))

    @property
    def step_hz(self) -> float:
        """Distance of two bins."""
        return self.sweep.rate_hz / self.n


def spectra_of(recording: Recording) -> Spectra:
    """Return the spectra of microphone, voltage and, where present, current and rear.

    Parameters
    ----------
    recording : Recording
        With a voltage channel.

    Returns
    -------
    Spectra
        All channels in their units, the microphone as an ideal one would have heard it;
        `start_s` is where the voltage, deconvolved by the analytic inverse sweep, has its peak.

    Raises
    ------
    ValueError
        If the recording has no voltage channel or no samples.

    References
    ----------
    .. [1] Novak, Lotton, Simon, J. Audio Eng. Soc. 63(10), 2015, section 3 (inverse filter).
    .. [2] IEC 60268-5, clause on the calibration of the measuring microphone.
    """
    if "voltage" not in recording.roles or recording.n_samples == 0:
        raise ValueError("need a voltage channel with samples")
    sweep = recording.sweep
    n = even_fast_length(max(recording.n_samples, 4))
    by_role: dict[Role, ComplexArray] = {}
    for role in TRANSFORMED_ROLES:
        if role in recording.roles:
            spectrum = scipy.fft.rfft(recording.full_scale_samples(role), n)
            spectrum *= recording.channels[recording.roles.index(role)].full_scale
            by_role[role] = spectrum
    frequency_hz = bin_frequencies(sweep.rate_hz, n)
    if (response := recording.microphone_response) is not None and "microphone" in by_role:
        by_role["microphone"] = corrected(frequency_hz, by_role["microphone"], response)
    start_s = start_of_sweep(by_role["voltage"], sweep, n)
    return Spectra(sweep, n, frequency_hz, by_role, start_s)


def even_fast_length(n_samples: int) -> int:
    """Return a length that transforms fast, not shorter, even: a bin at half the rate."""
    return 2 * int(scipy.fft.next_fast_len((n_samples + 1) // 2, real=True))


@lru_cache(maxsize=8)
def bin_frequencies(rate_hz: float, n: int) -> FloatArray:
    """Return the frequencies of the bins of a real transform of length n; read-only."""
    frequency_hz: FloatArray = np.arange(n // 2 + 1, dtype=np.float64) * (rate_hz / n)
    frequency_hz.flags.writeable = False
    return frequency_hz


@lru_cache(maxsize=8)
def inverse_sweep(sweep: Sweep, n: int) -> ComplexArray:
    """Return the analytic inverse sweep on the bins of a real transform of length n.

    Parameters
    ----------
    sweep : Sweep
        The stimulus.
    n : int
        Length of the transform in samples.

    Returns
    -------
    ndarray, shape (n // 2 + 1,)
        Read-only. Times the transform of the unfaded sweep of 1 V peak it is one, referred to the
        sweep's first sample; in 1/V. Zero at 0 Hz.

    Raises
    ------
    ValueError
        If `n` is below 2.

    References
    ----------
    .. [1] Novak, Lotton, Simon, J. Audio Eng. Soc. 63(10), 2015, eq. (43).
    """
    if n < 2:
        raise ValueError(f"need a transform of 2 samples or more; got {n}")
    inverse: ComplexArray = np.zeros(n // 2 + 1, dtype=np.complex128)
    inverse[1:] = 1.0 / (
        sweep.rate_hz * sweep_spectrum(sweep, bin_frequencies(sweep.rate_hz, n)[1:])
    )
    inverse.flags.writeable = False
    return inverse


def phase_ramp(n_bins: int, step_hz: float, delay_s: float) -> ComplexArray:
    """Return the spectrum of a pure delay on the first bins.

    Parameters
    ----------
    n_bins : int
        How many bins, from 0 Hz.
    step_hz : float
        Distance of two bins.
    delay_s : float
        Delay; negative advances.

    Returns
    -------
    ndarray, shape (n_bins,)
        exp(-2 pi i f delay), as the product of a coarse and a fine ramp: two short exponentials
        and one multiplication a bin instead of one exponential a bin.

    References
    ----------
    .. [1] exp(a + b) = exp(a) exp(b)
    """
    width = math.isqrt(max(n_bins, 1)) + 1
    turn = -2j * math.pi * step_hz * delay_s
    fine = np.exp(turn * np.arange(width))
    coarse = np.exp(turn * width * np.arange(width))
    ramp: ComplexArray = np.multiply.outer(coarse, fine).ravel()[:n_bins]
    return ramp


def full_level_to_hz(sweep: Sweep) -> float:
    """Return where the fade-out begins: the highest frequency the sweep excites in full."""
    return float(sweep.stop_hz * 2.0**-FADE_OUT_OCTAVES)


def start_of_sweep(voltage: ComplexArray, sweep: Sweep, n: int) -> float:
    """Return the instant at which the deconvolved voltage is largest, either sign."""
    step_hz = sweep.rate_hz / n
    inverse = inverse_sweep(sweep, n)
    top_hz = full_level_to_hz(sweep)
    first = min(math.ceil(sweep.faded_in_hz / step_hz), n // 2)
    last = min(math.ceil(min(COARSE_TO_HZ, top_hz) / step_hz) + 1, n // 2 + 1)
    impulse = np.zeros(last, dtype=np.complex128)
    impulse[first:last] = voltage[first:last] * inverse[first:last]
    length = even_fast_length(2 * last)
    instant_s = n / sweep.rate_hz / length
    coarse_s = float(np.argmax(np.abs(scipy.fft.irfft(impulse, length)))) * instant_s
    first = max(1, math.ceil(min(FINE_FROM_HZ, 0.5 * top_hz) / step_hz))
    stop = max(first + 1, math.floor(top_hz / step_hz))
    bins = np.arange(first, min(stop, n // 2 + 1), max(1, (stop - first) // FINE_BINS))
    deconvolved = voltage[bins] * inverse[bins]
    frequency_hz = bin_frequencies(sweep.rate_hz, n)[bins]
    start_s = coarse_s
    reach_s = instant_s
    for _ in range(3):
        start_s, reach_s = peak_near(deconvolved, frequency_hz, start_s, reach_s)
    return start_s


def peak_near(
    spectrum: ComplexArray, frequency_hz: FloatArray, around_s: float, reach_s: float
) -> tuple[float, float]:
    """Return where the real part of an inverse transform is largest, and the grid's step."""
    step_s = reach_s / FINE_STEPS
    turning = spectrum * np.exp(2j * np.pi * frequency_hz * (around_s - reach_s))
    step = np.exp(2j * np.pi * frequency_hz * step_s)
    sums = np.empty(2 * FINE_STEPS + 1)
    for index in range(sums.size):
        sums[index] = abs(float(np.sum(turning.real)))
        turning *= step
    best = int(np.argmax(sums))
    return around_s + (best - FINE_STEPS) * step_s, step_s
