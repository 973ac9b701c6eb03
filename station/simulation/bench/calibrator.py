"""What stands in for a unit while the station is calibrated: a sound calibrator, a resistor."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from station.simulation.arrays import ComplexArray, FloatArray
from station.simulation.bench.chain import SELF_NOISE_DB_SPL
from station.simulation.bench.room import pa_of
from station.simulation.physics.grid import TimeGrid
from station.simulation.physics.relaxation import Source
from station.simulation.physics.speaker import Emission

SWING_HZ = 0.7  # of a level that is not steady


@dataclass(frozen=True, slots=True)
class SimulatedCalibrator:
    """A sound calibrator pushed over one microphone, which then hears nothing of the room.

    Attributes
    ----------
    role : str
        The microphone it is on.
    level_db_spl : float
        What is written on it.
    frequency_hz : float
        Of its tone, as it is; a weak battery moves it.
    swing_db : float
        How far its level moves to either side.
    second_harmonic_ratio : float
        Second harmonic over fundamental.
    leak_db_spl : float
        Level of the noise that comes in beside it when it does not sit tight.
    """

    role: str
    level_db_spl: float
    frequency_hz: float
    swing_db: float = 0.0
    second_harmonic_ratio: float = 0.0
    leak_db_spl: float = SELF_NOISE_DB_SPL

    def heard_pa(
        self, n_samples: int, rate_hz: float, faults: Mapping[str, float], rng: Generator
    ) -> FloatArray:
        """Return the pressure at the microphone, its own noise included."""
        time_s = np.arange(n_samples) / rate_hz
        phase = 2.0 * np.pi * self.frequency_hz * time_s + float(rng.uniform(0.0, 2.0 * np.pi))
        level_db_spl = self.level_db_spl + faults.get("station_calibrator_error", 0.0)
        swing = 10.0 ** (self.swing_db / 20.0 * np.sin(2.0 * np.pi * SWING_HZ * time_s))
        tone = np.sin(phase) + self.second_harmonic_ratio * np.sin(2.0 * phase)
        noise = pa_of(self.leak_db_spl) * rng.standard_normal(n_samples)
        return np.asarray(np.sqrt(2.0) * pa_of(level_db_spl) * swing * tone + noise)


@dataclass(frozen=True, slots=True)
class SimulatedResistor:
    """A resistor across the terminals in place of a unit; it makes no sound."""

    resistance_ohm: float
    model: str = "resistor"

    def play(self, source: Source, grid: TimeGrid, rng: Generator) -> Emission:  # noqa: ARG002 - as every unit
        """Return what the resistor does when driven."""
        current_a = source.voltage_v / (source.impedance_ohm + self.resistance_ohm)
        silence = np.zeros_like(current_a)
        return Emission(current_a * self.resistance_ohm, current_a, silence, silence)

    def impedance(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return the resistance at every frequency."""
        return np.full(frequency_hz.shape, self.resistance_ohm, dtype=np.complex128)

    def response(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return silence."""
        return np.zeros(frequency_hz.shape, dtype=np.complex128)
