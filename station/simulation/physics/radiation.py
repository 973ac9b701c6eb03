"""From cone velocity to sound pressure at 1 m, in front and behind."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.simulation.arrays import ComplexArray
from station.simulation.physics.air import AIR_20C, Air
from station.simulation.physics.directivity import piston_ratio, shadow_ratio


def box_stiffness_n_m(volume_m3: float, area_m2: float) -> float:
    """Return the stiffness with which a closed box's air pushes back on a cone."""
    return AIR_20C.stiffness_pa * area_m2**2 / volume_m3


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
    air: Air = AIR_20C

    def pressure_pa_m_s(self, s: ComplexArray) -> ComplexArray:
        """Return pressure at 1 m in front per cone velocity.

        A point source into the full sphere, 6 dB more above the baffle step.
        """
        step = s / (2.0 * np.pi * self.baffle_step_hz)
        x = s / (2.0 * np.pi * self.rolloff_hz)
        pressure = self.air.kg_m3 / (4.0 * np.pi) * s * self.area_m2
        pressure = pressure * (1.0 + 2.0 * step) / (1.0 + step)
        pressure = pressure / (1.0 + x / self.rolloff_q_ratio + x * x)
        for mode in self.modes:
            pressure = pressure * mode.at(s)
        return np.asarray(pressure)

    def ratio_at(self, s: ComplexArray, angle_deg: float) -> ComplexArray:
        """Return pressure at an angle over pressure in front."""
        aside = piston_ratio(s, self.area_m2, angle_deg, self.air)
        return np.asarray(shadow_ratio(s, self.shade_hz, angle_deg) * aside)
