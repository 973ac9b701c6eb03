"""Production spread: what makes one serial number differ from the next, for ever the same.

Every value is drawn from a hash of seed, serial number and the value's own name, so that a
parameter added later changes no unit that exists. Parts come in batches: a share of the variance
can belong to the block of serial numbers, so that its units are off together.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, replace

from scipy.special import ndtri

from station.simulation.physics.drivers import Curves, Driver
from station.simulation.physics.networks import Part, scaled
from station.simulation.physics.panel import Panel
from station.simulation.physics.radiation import Mode, Radiator

SORTED_OUT_SIGMA = 3.0  # incoming inspection rejects parts outside their tolerance
BYTES = 8
BATCH_UNITS = 100  # for so many units a reel of parts lasts
DIGITS = 5  # of a serial number, after the model's letters


@dataclass(frozen=True, slots=True)
class Spread:
    """Draws for one unit; a tolerance is three standard deviations.

    `batch_ratio` is the share of the variance that a batch has in common; however large, the
    whole production spreads alike.
    """

    serial: str
    seed: int
    batch_ratio: float = 0.0

    @property
    def batch(self) -> str:
        """Name of the block of serial numbers."""
        return f"{self.serial[:-DIGITS]} batch {int(self.serial[-DIGITS:]) // BATCH_UNITS}"

    def sigmas(self, name: str) -> float:
        """Return a standard normal draw, cut at the tolerance."""
        sigmas = normal(f"{self.seed}/{self.serial}/{name}")
        if self.batch_ratio > 0.0:
            common = normal(f"{self.seed}/{self.batch}/{name}")
            sigmas *= math.sqrt(1.0 - self.batch_ratio)
            sigmas += common * math.sqrt(self.batch_ratio)
        return min(max(sigmas, -SORTED_OUT_SIGMA), SORTED_OUT_SIGMA)

    def factor(self, name: str, tolerance_ratio: float) -> float:
        """Return a factor around 1, lognormal."""
        return math.exp(self.sigmas(name) * tolerance_ratio / SORTED_OUT_SIGMA)

    def offset(self, name: str, tolerance: float) -> float:
        """Return a difference around 0, in the tolerance's unit."""
        return self.sigmas(name) * tolerance / SORTED_OUT_SIGMA


def normal(name: str) -> float:
    """Return the standard normal draw that belongs to a name."""
    digest = hashlib.sha256(name.encode()).digest()
    return float(ndtri((int.from_bytes(digest[:BYTES]) + 0.5) / 256.0**BYTES))


def spread_driver(driver: Driver, spread: Spread, name: str) -> Driver:
    """Return a produced driver: wire length moves Bl, Re and coil together, magnet Bl alone."""
    wire = spread.factor(f"{name} wire", 0.02)
    magnet = spread.factor(f"{name} magnet", 0.035)
    suspension = spread.factor(f"{name} suspension", 0.08)
    return replace(
        driver,
        resistance_ohm=driver.resistance_ohm * wire,
        coil_ohm_sn=driver.coil_ohm_sn * wire**2 * spread.factor(f"{name} gap", 0.02),
        force_factor_tm=driver.force_factor_tm * wire * magnet,
        moving_mass_kg=driver.moving_mass_kg * spread.factor(f"{name} mass", 0.03),
        friction_kg_s=driver.friction_kg_s * spread.factor(f"{name} friction", 0.15),
        stiffness_n_m=driver.stiffness_n_m * suspension,
        curves=spread_curves(driver.curves, spread, name, suspension),
    )


def spread_curves(curves: Curves, spread: Spread, name: str, suspension: float) -> Curves:
    """Return the curves of a produced driver: the coil's rest position varies, and the spider."""
    rest_m = spread.offset(f"{name} rest", 0.1 * curves.coil_reach_m)
    return replace(
        curves,
        force_slope_per_m=curves.force_slope_per_m + 2.0 * curves.force_curve_per_m2 * rest_m,
        stiffness_slope_per_m=curves.stiffness_slope_per_m * spread.factor(f"{name} spider", 0.3),
        stiffness_curve_per_m2=curves.stiffness_curve_per_m2 * suspension,
    )


def spread_radiator(radiator: Radiator, spread: Spread, name: str) -> Radiator:
    """Return a produced diaphragm: its modulus moves all breakup and the roll-off together."""
    modulus = spread.factor(f"{name} modulus", 0.04)
    modes = spread_modes(radiator.modes, modulus, spread, name)
    return replace(radiator, modes=modes, rolloff_hz=radiator.rolloff_hz * modulus)


def spread_modes(
    modes: tuple[Mode, ...], modulus: float, spread: Spread, name: str
) -> tuple[Mode, ...]:
    """Return produced modes: common stiffness, and each its own strength and damping."""
    return tuple(
        Mode(
            mode.frequency_hz * modulus * spread.factor(f"{name} mode {n}", 0.015),
            mode.gain_ratio + spread.offset(f"{name} mode gain {n}", 0.06),
            mode.q_ratio * spread.factor(f"{name} mode q {n}", 0.1),
        )
        for n, mode in enumerate(modes)
    )


def spread_panel(panel: Panel, spread: Spread) -> Panel:
    """Return a produced panel: bias, gap and film tension vary."""
    tension = spread.factor("panel tension", 0.04)
    return replace(
        panel,
        pressure_pa_v=panel.pressure_pa_v * spread.factor("panel sensitivity", 0.03),
        bias_ratio=panel.bias_ratio * spread.factor("panel bias", 0.04),
        unbalance_ratio=panel.unbalance_ratio * spread.factor("panel unbalance", 0.6),
        residue_ratio=panel.residue_ratio * spread.factor("panel residue", 0.3),
        charging_s=panel.charging_s * spread.factor("panel charging", 0.3),
        modes=spread_modes(panel.modes, tension, spread, "panel"),
    )


def spread_part(part: Part, spread: Spread, name: str, tolerance_ratio: float) -> Part:
    """Return a crossover part within its tolerance."""
    return scaled(part, spread.factor(name, tolerance_ratio))
