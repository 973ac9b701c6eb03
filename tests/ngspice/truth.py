"""Impedances that ngspice computed, and recordings of currents that follow from them."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import scipy.fft
from scipy.interpolate import CubicSpline

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.recording import Channel, Recording
from station.analysis.signals.sweep import Sweep, sweep_voltage

HERE = Path(__file__).parent
FULL_SCALE_V = 20.0
FULL_SCALE_A = 5.0


@cache
def saved(network: str) -> tuple[FloatArray, ComplexArray]:
    """Return frequency and impedance as saved beside the deck."""
    rows = np.loadtxt(HERE / f"{network}.csv", delimiter=",", skiprows=1)
    return rows[:, 0], rows[:, 1] + 1j * rows[:, 2]


def truth_ohm(network: str, frequency_hz: FloatArray) -> ComplexArray:
    """Return the impedance at any frequency; below the saved ones it stays as it is."""
    saved_hz, saved_ohm = saved(network)
    inside_hz = np.clip(frequency_hz, saved_hz[0], saved_hz[-1])
    return CubicSpline(np.log(saved_hz), saved_ohm)(np.log(inside_hz))


def recording_of(voltage_v: FloatArray, current_a: FloatArray, sweep: Sweep) -> Recording:
    """Return a recording of voltage and current."""
    samples = np.stack([voltage_v / FULL_SCALE_V, current_a / FULL_SCALE_A])
    channels = (Channel("voltage", FULL_SCALE_V), Channel("current", FULL_SCALE_A))
    return Recording(samples, channels, sweep, distance_m=1.0)


def current_through(network: str, sweep: Sweep) -> FloatArray:
    """Return the current that a network draws while a sweep plays.

    The transform is four times as long as the sweep, so that what rings on at its end dies there.
    """
    n = 4 * sweep.n_samples
    frequency_hz = scipy.fft.rfftfreq(n, 1.0 / sweep.rate_hz)
    spectrum = scipy.fft.rfft(sweep_voltage(sweep), n) / truth_ohm(network, frequency_hz)
    current_a: FloatArray = scipy.fft.irfft(spectrum, n)[: sweep.n_samples]
    return current_a
