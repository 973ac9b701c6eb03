"""Recordings made from closed forms: paths applied exactly, as functions of frequency."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

import numpy as np
import scipy.fft

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.recording import Channel, Recording, Role
from station.analysis.signals.sweep import Sweep, sweep_voltage

Path = Callable[[FloatArray], ComplexArray]

SWEEP = Sweep(15.0, 19.0, 44e3, 1.0, 2.83, 0.1, 0.4, 96e3)
SHORT_SWEEP = Sweep(60.0, 75.0, 7000.0, 0.25, 1.0, 0.05, 0.15, 16e3)
FULL_SCALE: Mapping[Role, float] = {
    "microphone": 20.0,
    "voltage": 20.0,
    "current": 20.0,
    "ambient": 20.0,
}
PADDING = 2  # so that what the path delays does not come round
OCTAVE_RATIO = 10.0**0.3  # IEC 61260-1:2014, base ten


def through(
    signal: FloatArray, path: Path, rate_hz: float, delay_samples: float = 0.0
) -> FloatArray:
    """Return a signal after a path and a delay."""
    n = scipy.fft.next_fast_len(PADDING * signal.size, real=True)
    frequency_hz = np.fft.rfftfreq(n, 1.0 / rate_hz)
    turned = np.exp(-2j * np.pi * frequency_hz * delay_samples / rate_hz)
    spectrum = scipy.fft.rfft(signal, n) * path(frequency_hz) * turned
    played: FloatArray = scipy.fft.irfft(spectrum, n)[: signal.size]
    return played


def recording_of(
    sweep: Sweep, channels: Mapping[Role, FloatArray], distance_m: float = 1.0
) -> Recording:
    """Return a recording of signals in Pa, V and A."""
    return Recording(
        np.stack([signal / FULL_SCALE[role] for role, signal in channels.items()]),
        tuple(Channel(role, FULL_SCALE[role]) for role in channels),
        sweep,
        distance_m,
    )


def played(
    sweep: Sweep,
    sound: Path,
    *,
    latency_samples: float = 0.0,
    flight_samples: float = 0.0,
    gain: float = 1.0,
    distance_m: float = 1.0,
) -> Recording:
    """Return microphone and voltage of a unit that is a path from voltage to pressure."""
    drive_v = sweep_voltage(sweep)
    late = latency_samples + flight_samples
    return recording_of(
        sweep,
        {
            "microphone": gain * through(drive_v, sound, sweep.rate_hz, late),
            "voltage": gain * through(drive_v, one, sweep.rate_hz, latency_samples),
        },
        distance_m,
    )


def one(frequency_hz: FloatArray) -> ComplexArray:
    """Return the path of a wire."""
    return np.ones(frequency_hz.size, dtype=np.complex128)


def sealed_box(frequency_hz: FloatArray) -> ComplexArray:
    """Return 0.3 Pa/V through a high-pass at 45 Hz, Q 0.8, and a low-pass at 30 kHz."""
    s = 1j * frequency_hz
    high_pass = s**2 / (s**2 + s * 45.0 / 0.8 + 45.0**2)
    return 0.3 * high_pass * 30e3 / (s + 30e3)


def woofer(frequency_hz: FloatArray) -> ComplexArray:
    """Return the sealed box below a crossover of fourth order at 2.5 kHz."""
    s = 1j * frequency_hz / 2500.0
    return sealed_box(frequency_hz) / (s**2 + math.sqrt(2.0) * s + 1.0) ** 2


def tweeter(frequency_hz: FloatArray) -> ComplexArray:
    """Return the sealed box above the same crossover: the two sum to an all-pass."""
    s = 1j * frequency_hz / 2500.0
    return sealed_box(frequency_hz) * s**4 / (s**2 + math.sqrt(2.0) * s + 1.0) ** 2


def two_way(frequency_hz: FloatArray) -> ComplexArray:
    """Return both sections together."""
    return woofer(frequency_hz) + tweeter(frequency_hz)


def driver_ohm(frequency_hz: FloatArray) -> ComplexArray:
    """Return the impedance of a driver: 6 ohm, 0.3 mH, a resonance at 50 Hz of Q 5 and 30 ohm."""
    s = 1j * np.maximum(frequency_hz, 1e-3) / 50.0
    motion = 30.0 * s / 5.0 / (s**2 + s / 5.0 + 1.0)
    return 6.0 + 2j * np.pi * frequency_hz * 0.3e-3 + motion


def admittance(frequency_hz: FloatArray) -> ComplexArray:
    """Return what that driver draws at one volt."""
    return 1.0 / driver_ohm(frequency_hz)


def true_band_power(path: Path, centres_hz: FloatArray, bands_per_octave: int) -> FloatArray:
    """Return the mean of |path|^2 over each band, by Gauss-Legendre quadrature."""
    half = OCTAVE_RATIO ** (0.5 / bands_per_octave)
    nodes, weights = np.polynomial.legendre.leggauss(40)
    lower, upper = centres_hz / half, centres_hz * half
    at_hz = 0.5 * (upper + lower) + 0.5 * np.multiply.outer(nodes, upper - lower)
    power = np.abs(path(at_hz.ravel()).reshape(at_hz.shape)) ** 2
    return np.asarray(0.5 * weights @ power)
