"""What temperature does to parts: copper, magnets, rubber, film, and the air they move.

All parts are drawn at 20 °C; each method returns a part as it is at another temperature.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from station.simulation.physics.air import AT_C, Air, air_at
from station.simulation.physics.drivers import Driver
from station.simulation.physics.networks import Part
from station.simulation.physics.panel import Panel
from station.simulation.physics.radiation import Radiator

COPPER_PER_K = 3.93e-3  # IEC 60028, at 20 °C
FERRITE_PER_K = -2.0e-3  # remanence of hard ferrites, IEC 60404-8-1
RUBBER_PER_K = -8e-3  # stiffness and losses of a suspension: common practice, no source
PLASTIC_FILM_PER_K = -2e-4  # polypropylene capacitors: common practice, no source
TENSION_PER_K = -3e-3  # a film stretched by 0.5 % that grows by 17e-6 per K on a frame that stays
BIAS_PER_K = -1.5e-3  # insulators leak more when warm: common practice, no source


@dataclass(frozen=True, slots=True)
class Warmth:
    """By how much everything is warmer than its values are given for."""

    above_k: float
    air: Air

    def ratio(self, per_k: float) -> float:
        """Return the factor of a value with a temperature coefficient."""
        return 1.0 + per_k * self.above_k

    def driver(self, driver: Driver) -> Driver:
        """Return a driver: copper, magnet and suspension; its box's air is as stiff as ever."""
        return replace(
            driver,
            resistance_ohm=driver.resistance_ohm * self.ratio(COPPER_PER_K),
            force_factor_tm=driver.force_factor_tm * self.ratio(FERRITE_PER_K),
            stiffness_n_m=driver.stiffness_n_m * self.ratio(RUBBER_PER_K),
            friction_kg_s=driver.friction_kg_s * self.ratio(RUBBER_PER_K),
        )

    def radiator(self, radiator: Radiator) -> Radiator:
        """Return a diaphragm that moves this air; diffraction goes with the wavelength."""
        faster = self.air.sound_m_s / radiator.air.sound_m_s
        return replace(
            radiator,
            air=self.air,
            baffle_step_hz=radiator.baffle_step_hz * faster,
            shade_hz=radiator.shade_hz * faster,
        )

    def wound(self, part: Part) -> Part:
        """Return a coil or a winding of copper."""
        return replace(part, resistance_ohm=part.resistance_ohm * self.ratio(COPPER_PER_K))

    def capacitor(self, part: Part) -> Part:
        """Return a film capacitor; without a capacitance (a shorted one) nothing changes."""
        if part.capacitance_f is None:
            return part
        return replace(part, capacitance_f=part.capacitance_f * self.ratio(PLASTIC_FILM_PER_K))

    def panel(self, panel: Panel) -> Panel:
        """Return a panel: the film slackens, the bias sinks, the air is thinner."""
        slacker = self.ratio(TENSION_PER_K) ** 0.5
        return replace(
            panel,
            air=self.air,
            pressure_pa_v=panel.pressure_pa_v * (self.air.kg_m3 / panel.air.kg_m3),
            dipole_hz=panel.dipole_hz * (self.air.sound_m_s / panel.air.sound_m_s),
            bias_ratio=panel.bias_ratio * self.ratio(BIAS_PER_K),
            modes=tuple(
                replace(mode, frequency_hz=mode.frequency_hz * slacker) for mode in panel.modes
            ),
        )


def warmth_at(temperature_c: float) -> Warmth:
    """Return what a temperature changes."""
    return Warmth(temperature_c - AT_C, air_at(temperature_c))
