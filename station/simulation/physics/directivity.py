"""How much less, and how much later, a diaphragm sounds to the side of its axis than on it.

Every function returns the pressure at an angle over the pressure on the axis, both at 1 m from
the middle of the diaphragm, so that on the axis everything stays as its model says.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from station.simulation.arrays import ComplexArray, FloatArray
from station.simulation.physics.air import Air

DISTANCE_M = 1.0
ELEMENT_M = 3e-3  # of an arc: well below half the wavelength at 44 kHz
TABLE_FROM_HZ, TABLE_TO_HZ, PER_OCTAVE = 20.0, 50e3, 48  # beyond, the table's ends hold
ALMOST_STRAIGHT = 1e-9  # sine of an angle in front or behind, where the piston's formula is 0/0


def piston_ratio(s: ComplexArray, area_m2: float, angle_deg: float, air: Air) -> FloatArray:
    """Return the directivity of a flat round piston, 2·J1(ka·sin)/(ka·sin).

    Kinsler, Frey, Coppens, Sanders, Fundamentals of Acoustics, 4th ed., 7.4.
    """
    aside = abs(float(np.sin(np.radians(angle_deg))))
    if aside < ALMOST_STRAIGHT:
        return np.ones(s.shape)
    radius_m = np.sqrt(area_m2 / np.pi)
    x = np.abs(s) * (radius_m / air.sound_m_s * aside)
    return np.asarray(2.0 * special.j1(x) / x)


def shadow_ratio(s: ComplexArray, shade_hz: float, angle_deg: float) -> ComplexArray:
    """Return what a cabinet takes away: nothing in front, treble above `shade_hz` behind."""
    behind_ratio = 0.5 * (1.0 - np.cos(np.radians(angle_deg)))
    x = s / (2.0 * np.pi * shade_hz)
    return np.asarray((1.0 + (1.0 - behind_ratio) * x) / (1.0 + x))


@dataclass(frozen=True, slots=True)
class Arc:
    """The horizontal shape of a curved dipole panel, convex to the front."""

    opening_deg: float
    length_m: float

    @property
    def radius_m(self) -> float:
        """Radius of curvature."""
        return float(self.length_m / np.radians(self.opening_deg))

    def ratio(self, s: ComplexArray, angle_deg: float, air: Air) -> ComplexArray:
        """Return pressure at an angle over pressure on the axis; grille and film left out.

        Behind, the concave side focuses before the microphone, and the sign is the dipole's own
        only at long wavelengths; that is physics, and a microphone there hears it.
        """
        octaves = np.log2(TABLE_TO_HZ / TABLE_FROM_HZ)
        table_hz = np.geomspace(TABLE_FROM_HZ, TABLE_TO_HZ, round(PER_OCTAVE * octaves) + 1)
        table = self._pressure(table_hz, angle_deg, air) / self._pressure(table_hz, 0.0, air)
        at, known_at = np.log(np.abs(s)), np.log(2.0 * np.pi * table_hz)
        return np.interp(at, known_at, table.real) + 1j * np.interp(at, known_at, table.imag)

    def _pressure(self, frequency_hz: FloatArray, angle_deg: float, air: Air) -> ComplexArray:
        """Return the sum of short dipoles along the arc, each moving outwards."""
        elements = round(self.length_m / ELEMENT_M)
        middles = (np.arange(elements) + 0.5) / elements - 0.5
        turned = np.radians(middles * self.opening_deg)
        angle = np.radians(angle_deg)
        ahead_m = DISTANCE_M * np.cos(angle) - self.radius_m * (np.cos(turned) - 1.0)
        aside_m = DISTANCE_M * np.sin(angle) - self.radius_m * np.sin(turned)
        away_m = np.hypot(ahead_m, aside_m)
        facing = (ahead_m * np.cos(turned) + aside_m * np.sin(turned)) / away_m
        jkr = np.outer(2j * np.pi * frequency_hz / air.sound_m_s, away_m)
        return np.asarray(np.sum(facing * (1.0 + 1.0 / jkr) * np.exp(-jkr) / away_m, axis=1))
