"""From cone velocity to sound pressure at 1 m, in front and behind."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.simulation.arrays import ComplexArray

AIR_KG_M3 = 1.204  # dry air at 20 °C and 101.325 kPa
SOUND_M_S = 343.2  # the same air
AIR_STIFFNESS_PA = AIR_KG_M3 * SOUND_M_S**2


def box_stiffness_n_m(volume_m3: float, area_m2: float) -> float:
    """Return the stiffness with which a closed box's air pushes back on a cone."""
    return AIR_STIFFNESS_PA * area_m2**2 / volume_m3


@dataclass(frozen=True, slots=True)
class Mode:
    """A breakup mode of a diaphragm: a bump or dip of the response."""

    frequency_hz: float
    gain_ratio: float  # added at its peak
    q_ratio: float

    def at(self, s: ComplexArray) -> ComplexArray:
        """Return its factor of the response."""
        x = s / (2.0 * np.pi * self.frequency_hz)
        return np.asarray(
            1.0 + self.gain_ratio * (x / self.q_ratio) / (1.0 + x / self.q_ratio + x * x)
        )


@dataclass(frozen=True, slots=True)
class Radiator:
    """How a diaphragm radiates: baffle step, breakup, and the roll-off above."""

    area_m2: float
    baffle_step_hz: float
    rolloff_hz: float
    rolloff_q_ratio: float
    modes: tuple[Mode, ...]
    shade_hz: float  # behind the cabinet, sound falls off above this frequency

    def pressure_pa_m_s(self, s: ComplexArray) -> ComplexArray:
        """Return pressure at 1 m in front per cone velocity.

        A point source into the full sphere, 6 dB more above the baffle step.
        """
        step = s / (2.0 * np.pi * self.baffle_step_hz)
        x = s / (2.0 * np.pi * self.rolloff_hz)
        pressure = AIR_KG_M3 / (4.0 * np.pi) * s * self.area_m2
        pressure = pressure * (1.0 + 2.0 * step) / (1.0 + step)
        pressure = pressure / (1.0 + x / self.rolloff_q_ratio + x * x)
        for mode in self.modes:
            pressure = pressure * mode.at(s)
        return np.asarray(pressure)

    def rear_ratio(self, s: ComplexArray) -> ComplexArray:
        """Return pressure behind the cabinet over pressure in front."""
        return np.asarray(1.0 / (1.0 + s / (2.0 * np.pi * self.shade_hz)))
