"""A powered speaker: input, filters, gain, a limiting amplifier with noise, then the drivers."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator

from station.simulation.arrays import ComplexArray, FloatArray
from station.simulation.physics.grid import TimeGrid
from station.simulation.physics.relaxation import Source
from station.simulation.physics.speaker import Emission, PassiveSpeaker

LIMITER_EXPONENT = 6.0  # soft knee: 1 % compression at about two thirds of the rail


@dataclass(frozen=True, slots=True)
class Electronics:
    """Everything between the input socket and the amplifier's output."""

    input_ohm: float
    input_f: float
    gain_ratio: float
    subsonic_hz: float
    subsonic_q_ratio: float
    lowpass_hz: float
    lowpass_q_ratios: tuple[float, ...]  # one second-order stage each
    peak_v: float  # rail of the amplifier
    noise_v: float  # RMS at the amplifier's output, over the whole band
    hum_v: tuple[float, ...]  # RMS of mains harmonics 1, 2, ... at the amplifier's output
    mains_hz: float

    def admittance_s(self, s: ComplexArray) -> ComplexArray:
        """Return the admittance of the input."""
        return np.asarray(1.0 / self.input_ohm + s * self.input_f)

    def gain(self, s: ComplexArray) -> ComplexArray:
        """Return output voltage per input voltage, small signals."""
        x = s / (2.0 * np.pi * self.subsonic_hz)
        gain = self.gain_ratio * x * x / (1.0 + x / self.subsonic_q_ratio + x * x)
        x = s / (2.0 * np.pi * self.lowpass_hz)
        for q_ratio in self.lowpass_q_ratios:
            gain = gain / (1.0 + x / q_ratio + x * x)
        return np.asarray(gain)

    def limited_v(self, voltage_v: FloatArray) -> FloatArray:
        """Return the output of an amplifier that gives way softly before its rail."""
        knee = (1.0 + np.abs(voltage_v / self.peak_v) ** LIMITER_EXPONENT) ** (
            1.0 / LIMITER_EXPONENT
        )
        return np.asarray(voltage_v / knee)

    def own_noise_v(self, n_samples: int, rate_hz: float, rng: Generator) -> FloatArray:
        """Return hiss and hum of the amplifier; the mains' phase is another in every run."""
        noise_v = self.noise_v * rng.standard_normal(n_samples)
        turn = 2.0 * np.pi * self.mains_hz * np.arange(n_samples) / rate_hz
        for order, hum_v in enumerate(self.hum_v, start=1):
            noise_v += np.sqrt(2.0) * hum_v * np.sin(order * turn + rng.uniform(0.0, 2.0 * np.pi))
        return noise_v


@dataclass(frozen=True, slots=True)
class PoweredSpeaker:
    """A speaker whose terminals are a line input."""

    model: str
    electronics: Electronics
    drivers: PassiveSpeaker

    def play(self, source: Source, grid: TimeGrid, rng: Generator) -> Emission:
        """Return what the speaker does when driven."""
        admittance_s = self.electronics.admittance_s(grid.s)
        terminal_v = source.voltage_v / (1.0 + source.impedance_ohm * admittance_s)
        wanted_v = grid.padded_signal(self.electronics.gain(grid.s) * terminal_v)
        noise_v = self.electronics.own_noise_v(wanted_v.size, grid.rate_hz, rng)
        output_v = self.electronics.limited_v(wanted_v + noise_v)
        inner = Source(grid.spectrum(output_v), np.zeros_like(grid.s))
        emission = self.drivers.play(inner, grid, rng)
        return replace(emission, terminal_v=terminal_v, current_a=admittance_s * terminal_v)

    def impedance(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return the small-signal impedance."""
        return np.asarray(1.0 / self.electronics.admittance_s(s_of(frequency_hz)))

    def response(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return the small-signal response."""
        gain = self.electronics.gain(s_of(frequency_hz))
        return np.asarray(gain * self.drivers.response(frequency_hz))


def s_of(frequency_hz: FloatArray) -> ComplexArray:
    """Return complex angular frequencies in rad/s."""
    return np.asarray(2j * np.pi * frequency_hz)
