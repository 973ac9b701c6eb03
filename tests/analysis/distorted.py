"""Sweeps through a memoryless distortion with known harmonics and a known filter behind it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import scipy.fft

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.recording import Channel, Recording
from station.analysis.signals.sweep import Sweep, sweep_voltage

FULL_SCALE_PA = 20.0
FULL_SCALE_V = 20.0
SENSITIVITY_PA_V = 0.3
DELAY_S = 3e-3
OVERSAMPLING = 8  # harmonics up to the tenth of 44 kHz stay apart from their images

Filter = Callable[[FloatArray], ComplexArray]


def sweep_of(duration_s: float) -> Sweep:
    """Return the usual sweep, one or two seconds long."""
    return Sweep(15.0, 19.0, 44e3, duration_s, 2.83, 0.1, 0.4, 96e3)


def loudspeaker(frequency_hz: FloatArray) -> ComplexArray:
    """Return a second-order high-pass at 55 Hz, a bump of 4 dB at 900 Hz, a low-pass at 30 kHz."""
    s = 1j * frequency_hz
    high_pass = s**2 / (s**2 + s * 55.0 / 0.8 + 55.0**2)
    bump = (s**2 + s * 720.0 + 900.0**2) / (s**2 + s * 450.0 + 900.0**2)
    low_pass = 30e3 / (s + 30e3)
    return high_pass * bump * low_pass


def distorted(voltage_v: FloatArray, harmonics: Mapping[int, float], peak_v: float) -> FloatArray:
    """Return the input plus Chebyshev polynomials of it.

    T_n(cos x) = cos(n x): at full amplitude `peak_v` order n gets exactly its share of the
    fundamental. The polynomials' values at rest are taken off.
    """
    coefficients = np.zeros(max(harmonics) + 1)
    for order, ratio in harmonics.items():
        coefficients[order] = ratio
    at_rest = np.polynomial.chebyshev.chebval(0.0, coefficients)
    share = np.polynomial.chebyshev.chebval(voltage_v / peak_v, coefficients) - at_rest
    return voltage_v + peak_v * share


def heard(sweep: Sweep, harmonics: Mapping[int, float], through: Filter) -> FloatArray:
    """Return the pressure in Pa of a unit that distorts first and filters then."""
    fine = replace(sweep, rate_hz=OVERSAMPLING * sweep.rate_hz)
    voltage_v = sweep_voltage(fine)[: OVERSAMPLING * sweep.n_samples]
    inside_v = distorted(voltage_v, harmonics, math.sqrt(2.0) * sweep.level_v)
    bins = sweep.n_samples // 2 + 1
    spectrum = scipy.fft.rfft(inside_v)[:bins] / OVERSAMPLING
    frequency_hz = np.arange(bins) * (sweep.rate_hz / sweep.n_samples)
    flight = np.exp(-2j * np.pi * frequency_hz * DELAY_S)
    spectrum *= SENSITIVITY_PA_V * through(frequency_hz) * flight
    pressure_pa: FloatArray = scipy.fft.irfft(spectrum, sweep.n_samples)
    return pressure_pa


def recording_of(
    sweep: Sweep, pressure_pa: FloatArray, voltage_v: FloatArray, distance_m: float = 1.0
) -> Recording:
    """Return a recording of microphone and voltage."""
    samples = np.stack([pressure_pa / FULL_SCALE_PA, voltage_v / FULL_SCALE_V])
    channels = (Channel("microphone", FULL_SCALE_PA), Channel("voltage", FULL_SCALE_V))
    return Recording(samples, channels, sweep, distance_m)
