"""The synchronized exponential sweep: its parameters, its samples and its analytic spectrum."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray

FADE_OUT_OCTAVES = 1.0 / 12.0


@dataclass(frozen=True, slots=True)
class Sweep:
    """A synchronized exponential sweep between a silent lead-in and a silent tail.

    Attributes
    ----------
    start_hz, stop_hz : float
        First and last instantaneous frequency; outside what is read, see `faded_in_hz`.
    faded_in_hz : float
        Instantaneous frequency at which the fade-in is complete; the fade-out takes the last
        twelfth of an octave.
    duration_s : float
        Wanted length of the sweep; the true one is `rate_s * ln(stop_hz / start_hz)`.
    level_v : float
        RMS voltage of the sweep at the unit's terminals, in V.
    lead_in_s, tail_s : float
        Silence before, in which the ambient level is read, and after, for the decay.
    rate_hz : float
        Sampling rate.

    References
    ----------
    .. [1] Novak, Lotton, Simon, "Synchronized Swept-Sine: Theory, Application, and
       Implementation", J. Audio Eng. Soc. 63(10), 2015.
    """

    start_hz: float
    faded_in_hz: float
    stop_hz: float
    duration_s: float
    level_v: float
    lead_in_s: float
    tail_s: float
    rate_hz: float

    def __post_init__(self) -> None:
        if not 0.0 < self.start_hz < self.faded_in_hz < self.stop_hz:
            raise ValueError("need 0 < start_hz < faded_in_hz < stop_hz")
        if self.stop_hz >= self.rate_hz / 2.0:
            raise ValueError(f"stop_hz {self.stop_hz} must stay below half of {self.rate_hz} Hz")
        if self.duration_s * self.start_hz < 0.5 or min(self.lead_in_s, self.tail_s) < 0.0:
            raise ValueError("the sweep is too short for its start frequency, or a gap is negative")

    @property
    def rate_s(self) -> float:
        """L in s: time in which the frequency rises by a factor e, times start_hz a whole number.

        That the product is whole is what synchronizes the harmonics' impulse responses (ref. 1).
        """
        octaves = math.log(self.stop_hz / self.start_hz)
        return max(1, round(self.start_hz * self.duration_s / octaves)) / self.start_hz

    @property
    def true_duration_s(self) -> float:
        """Length of the sweep proper in s."""
        return self.rate_s * math.log(self.stop_hz / self.start_hz)

    @property
    def lead_in_samples(self) -> int:
        """Index of the sweep's first sample."""
        return round(self.lead_in_s * self.rate_hz)

    @property
    def sweep_samples(self) -> int:
        """Length of the sweep proper."""
        return math.ceil(self.true_duration_s * self.rate_hz)

    @property
    def n_samples(self) -> int:
        """Length of lead-in, sweep and tail together."""
        return self.lead_in_samples + self.sweep_samples + round(self.tail_s * self.rate_hz)

    def time_of(self, frequency_hz: float) -> float:
        """Return when, in s after the sweep's first sample, it passes a frequency."""
        return self.rate_s * math.log(frequency_hz / self.start_hz)


def sweep_voltage(sweep: Sweep) -> FloatArray:
    """Return the stimulus as instantaneous voltage at the unit's terminals.

    Parameters
    ----------
    sweep : Sweep
        What to play.

    Returns
    -------
    ndarray, shape (sweep.n_samples,)
        In V: lead-in, faded sweep, tail.

    References
    ----------
    .. [1] Novak, Lotton, Simon, J. Audio Eng. Soc. 63(10), 2015, eq. (34) and (49).
    """
    time_s = np.arange(sweep.sweep_samples) / sweep.rate_hz
    growth = np.exp(time_s / sweep.rate_s)
    phase = 2.0 * np.pi * sweep.start_hz * sweep.rate_s * (growth - 1.0)
    frequency_hz = sweep.start_hz * growth
    rise = np.clip(np.log(growth) / math.log(sweep.faded_in_hz / sweep.start_hz), 0.0, 1.0)
    octaves_left = np.log2(sweep.stop_hz / frequency_hz)
    fall = np.clip(octaves_left / FADE_OUT_OCTAVES, 0.0, 1.0)
    fade = np.sin(0.5 * np.pi * rise) ** 2 * np.sin(0.5 * np.pi * fall) ** 2
    voltage_v = np.zeros(sweep.n_samples)
    first = sweep.lead_in_samples
    voltage_v[first : first + sweep.sweep_samples] = (
        math.sqrt(2.0) * sweep.level_v * fade * np.sin(phase)
    )
    return voltage_v


def sweep_spectrum(sweep: Sweep, frequency_hz: FloatArray) -> ComplexArray:
    """Return the analytic spectrum of the unfaded sweep of 1 V peak, referred to its first sample.

    Parameters
    ----------
    sweep : Sweep
        The stimulus.
    frequency_hz : ndarray, shape (n,)
        Where to evaluate; above zero.

    Returns
    -------
    ndarray, shape (n,)
        In V/Hz; its reciprocal is the analytic inverse sweep that pulls the harmonics apart.

    Raises
    ------
    ValueError
        If a frequency is zero or negative.

    References
    ----------
    .. [1] Novak, Lotton, Simon, J. Audio Eng. Soc. 63(10), 2015, eq. (42) to (43).
    """
    if np.any(frequency_hz <= 0.0):
        raise ValueError("the analytic spectrum is defined above 0 Hz")
    cycles = frequency_hz * sweep.rate_s
    phase = (
        2.0
        * np.pi
        * (cycles * (1.0 - np.log(frequency_hz / sweep.start_hz)) - sweep.start_hz * sweep.rate_s)
    )
    magnitude = 0.5 * np.sqrt(sweep.rate_s / frequency_hz)
    spectrum: ComplexArray = magnitude * np.exp(1j * (phase - 0.25 * np.pi))
    return spectrum


def stimulus_voltage(sweeps: Sequence[Sweep]) -> FloatArray:
    """Return sweeps one after the other as instantaneous voltage at the unit's terminals.

    Parameters
    ----------
    sweeps : sequence of Sweep
        In the order of playing; at least one.

    Returns
    -------
    ndarray, shape (sum of their n_samples,)
        In V.

    References
    ----------
    .. [1] As `sweep_voltage`.
    """
    return np.concatenate([sweep_voltage(sweep) for sweep in sweeps])
