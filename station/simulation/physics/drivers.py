"""A moving-coil driver in a closed box: linear at rest, with curves over excursion and current.

Equations, with coil current i, excursion x, velocity v = dx/dt:

    u = Re·i + dⁿ/dtⁿ(K(x)·i) + Bl(x, i)·v
    Mms·dv/dt + Rms·v + Kms(x)·x + box·x = Bl(x, i)·i + ½·i²·dL(x)/dx

The coil is lossy, K·(jω)ⁿ (Leach, J. Audio Eng. Soc. 50(6), 2002); n = 1 makes K an inductance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from station.simulation.arrays import ComplexArray, FloatArray
from station.simulation.physics.networks import OPEN_OHM

COUPLING_RATIO = 0.7  # between shorted turns and the rest of the coil
CRACK_SLOPE_PER_M = 100.0  # of Bl(x), for all of the force factor lost
SURROUND_RATIO = 0.6  # of a suspension's stiffness; the rest is the spider's
TEAR_LEAK_S = 1.5e-3  # time constant of a box whose surround is torn all round
TEAR_SLOPE_PER_M = 200.0  # of the stiffness, for the same
LOW_OHM_RATIO, HEAVY_RATIO = 0.6, 1.35
COIL_AT_RAD_S = 2.0 * np.pi * 1000.0  # where a lossy coil is given its equivalent inductance


@dataclass(frozen=True, slots=True)
class Curves:
    """How force factor, stiffness and coil change, relative to their value at rest.

    Over excursion: Bl = exp(-slope·x - curve·x²); Kms = 1 + slope·x + curve·x²;
    coil = 1 - depth·tanh(x/reach). Over current, because the coil's own field moves the
    magnet's working point: Bl times 1 + current_slope·i - current_curve·i².
    """

    force_slope_per_m: float
    force_curve_per_m2: float
    stiffness_slope_per_m: float
    stiffness_curve_per_m2: float
    coil_depth_ratio: float
    coil_reach_m: float
    current_slope_per_a: float
    current_curve_per_a2: float

    def force_ratio(self, x_m: FloatArray, i_a: FloatArray) -> FloatArray:
        """Return Bl(x, i)/Bl(0, 0)."""
        over_x = np.exp(-x_m * (self.force_slope_per_m + self.force_curve_per_m2 * x_m))
        over_i = 1.0 + i_a * (self.current_slope_per_a - self.current_curve_per_a2 * i_a)
        return np.asarray(over_x * over_i)

    def stiffness_ratio(self, x_m: FloatArray) -> FloatArray:
        """Return Kms(x)/Kms(0)."""
        return 1.0 + x_m * (self.stiffness_slope_per_m + self.stiffness_curve_per_m2 * x_m)

    def coil_ratio(self, x_m: FloatArray) -> FloatArray:
        """Return K(x)/K(0)."""
        return np.asarray(1.0 - self.coil_depth_ratio * np.tanh(x_m / self.coil_reach_m))

    def coil_gradient_per_m(self, x_m: FloatArray) -> FloatArray:
        """Return the derivative of `coil_ratio` over x."""
        steepness = 1.0 - np.tanh(x_m / self.coil_reach_m) ** 2
        return np.asarray(-self.coil_depth_ratio / self.coil_reach_m * steepness)


@dataclass(frozen=True, slots=True, eq=False)
class DriverAt:
    """A driver's linear equations at some frequencies.

    u = blocked·i + force·v; stiffness·x = force·i + outside force; v = s·x.
    """

    blocked_ohm: ComplexArray
    force_tm: ComplexArray
    stiffness_n_m: ComplexArray  # (s²·M + s·R + K), complex
    coil_ohm: ComplexArray  # the part of blocked_ohm that changes with excursion

    def first(self, bins: int) -> DriverAt:
        """Return the equations at their first frequencies only."""
        return DriverAt(
            self.blocked_ohm[:bins],
            self.force_tm[:bins],
            self.stiffness_n_m[:bins],
            self.coil_ohm[:bins],
        )


@dataclass(frozen=True, slots=True)
class Driver:
    """Parameters of one driver; `shorted_ratio` is the share of its turns that is shorted."""

    resistance_ohm: float
    coil_ohm_sn: float  # K of K·sⁿ
    coil_exponent: float
    force_factor_tm: float
    moving_mass_kg: float
    friction_kg_s: float
    stiffness_n_m: float
    box_stiffness_n_m: float
    box_leak_s: float  # time constant with which the box loses its pressure
    curves: Curves
    linear_above_hz: float  # where excursion and current are too small to bend anything
    shorted_ratio: float = 0.0
    coil_open: bool = False

    @property
    def coil_inductance_h(self) -> float:
        """Equivalent inductance of the lossy coil at 1 kHz, for the reluctance force."""
        turn = np.sin(0.5 * np.pi * self.coil_exponent)
        return float(self.coil_ohm_sn * turn * COIL_AT_RAD_S ** (self.coil_exponent - 1.0))

    def at(self, s: ComplexArray) -> DriverAt:
        """Return the linear equations; shorted turns are eliminated as a second, closed coil."""
        whole = self.coil_ohm_sn * s**self.coil_exponent
        live = 1.0 - self.shorted_ratio
        coil = whole * live**2
        leaking = s * self.box_leak_s
        blocked = self.resistance_ohm * live + coil + (OPEN_OHM if self.coil_open else 0.0)
        force = np.full_like(s, self.force_factor_tm * live)
        stiffness = (
            s * (s * self.moving_mass_kg + self.friction_kg_s)
            + self.stiffness_n_m
            + self.box_stiffness_n_m * leaking / (1.0 + leaking)
        )
        if self.shorted_ratio > 0.0:
            loop = self.resistance_ohm * self.shorted_ratio + whole * self.shorted_ratio**2
            mutual = COUPLING_RATIO * whole * live * self.shorted_ratio
            loop_force = self.force_factor_tm * self.shorted_ratio
            blocked = blocked - mutual**2 / loop
            force = force - mutual * loop_force / loop
            stiffness = stiffness + s * loop_force**2 / loop
        return DriverAt(blocked, force, stiffness, coil)


def with_weak_magnet(driver: Driver, lost_ratio: float) -> Driver:
    """Return the driver with less force factor."""
    return replace(driver, force_factor_tm=driver.force_factor_tm * (1.0 - lost_ratio))


def with_cracked_magnet(driver: Driver, lost_ratio: float) -> Driver:
    """Return the driver with less force factor, lost on one side of the gap more than elsewhere.

    A weak magnet is weak all round; a crack also tilts Bl(x), which makes second harmonic.
    """
    weak = with_weak_magnet(driver, lost_ratio)
    slope_per_m = driver.curves.force_slope_per_m + CRACK_SLOPE_PER_M * lost_ratio
    return replace(weak, curves=replace(weak.curves, force_slope_per_m=slope_per_m))


def with_torn_surround(driver: Driver, torn_ratio: float) -> Driver:
    """Return the driver with a share of its surround torn: softer, lopsided, and leaking."""
    leaks_per_s = 1.0 / driver.box_leak_s + torn_ratio / TEAR_LEAK_S
    slope_per_m = driver.curves.stiffness_slope_per_m + TEAR_SLOPE_PER_M * torn_ratio
    return replace(
        driver,
        stiffness_n_m=driver.stiffness_n_m * (1.0 - SURROUND_RATIO * torn_ratio),
        box_leak_s=1.0 / leaks_per_s,
        curves=replace(driver.curves, stiffness_slope_per_m=slope_per_m),
    )


def sibling(driver: Driver, number: int) -> Driver:
    """Return another driver of the same size: 1 of 0.6 times the impedance, 2 with a heavy cone."""
    if number == 1:  # the same motor, wound with fewer turns of thicker wire
        return replace(
            driver,
            resistance_ohm=driver.resistance_ohm * LOW_OHM_RATIO,
            coil_ohm_sn=driver.coil_ohm_sn * LOW_OHM_RATIO,
            force_factor_tm=driver.force_factor_tm * LOW_OHM_RATIO**0.5,
        )
    return replace(driver, moving_mass_kg=driver.moving_mass_kg * HEAVY_RATIO)


def with_stiff_surround(driver: Driver, added_ratio: float) -> Driver:
    """Return the driver with a stiffer suspension."""
    return replace(driver, stiffness_n_m=driver.stiffness_n_m * (1.0 + added_ratio))
