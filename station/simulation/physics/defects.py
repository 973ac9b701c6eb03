"""Sounds a defect makes by itself: scraping coil, loose part, leaking air, arcing panel.

Each is caused by the unit's own motion or voltage, sample by sample, and scaled so that its peak
at 1 m is the wanted one when the unit is driven as hard as its model's standard stimulus does.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.random import Generator
from scipy import signal

from station.simulation.arrays import ComplexArray, FloatArray
from station.simulation.physics.grid import TimeGrid

P0_PA = 20e-6
RUB_FROM_RATIO = 0.45  # of the standard stimulus's peak excursion
RUB_SOFTNESS_RATIO = 0.25  # of the contact excursion, until the coil presses with full force
SLIP_M = 0.15e-3  # travel from one stick-slip jerk to the next
BUZZ_FROM_RATIO = 0.6
BUZZ_Q_RATIO = 8.0
ARC_PER_S = 400.0  # at full voltage
RUB_RING_S, BUZZ_RING_S, ARC_RING_S = 0.3e-3, 0.8e-3, 0.1e-3  # decay by a factor e
RING_HZ = (1500.0, 12000.0)
HISS_HZ = (800.0, 6000.0)


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """How a cone moves, full band."""

    excursion_m: ComplexArray  # spectrum
    grid: TimeGrid


class Defect(Protocol):
    """A sound source driven by a cone's motion."""

    def pressure_pa(self, motion: Motion, rng: Generator) -> FloatArray:
        """Return the defect's own sound pressure at 1 m."""


@dataclass(frozen=True, slots=True)
class Rub:
    """The coil scrapes in its gap beyond some excursion, in stick-slip jerks."""

    peak_db_spl: float
    loud_m: float  # peak excursion of the standard stimulus

    def pressure_pa(self, motion: Motion, rng: Generator) -> FloatArray:
        """Return the scrape."""
        grid = motion.grid
        x_m = grid.signal(motion.excursion_m)
        contact_m = RUB_FROM_RATIO * self.loud_m
        press = np.clip((np.abs(x_m) - contact_m) / (RUB_SOFTNESS_RATIO * contact_m), 0.0, 1.0)
        travel_m = np.cumsum(np.abs(np.diff(x_m, prepend=x_m[0])))
        slips = np.diff(np.floor(travel_m / SLIP_M), prepend=0.0) > 0.0
        strikes = slips * press * rng.uniform(0.4, 1.0, x_m.size)
        return struck(strikes, RUB_RING_S, self.peak_db_spl, float(press.max()), grid, rng)


@dataclass(frozen=True, slots=True)
class Buzz:
    """A loose part with a resonance of its own strikes once a cycle when shaken enough."""

    peak_db_spl: float
    resonance_hz: float
    loud_m_s2: float  # peak acceleration of the standard stimulus at the resonance

    def pressure_pa(self, motion: Motion, rng: Generator) -> FloatArray:
        """Return the rattle."""
        grid = motion.grid
        x = grid.s / (2.0 * np.pi * self.resonance_hz)
        follows = (x / BUZZ_Q_RATIO) / (1.0 + x / BUZZ_Q_RATIO + x * x)
        shaken_m_s2 = grid.signal(grid.s**2 * motion.excursion_m * follows)
        above = shaken_m_s2 > BUZZ_FROM_RATIO * self.loud_m_s2
        hits = np.diff(above.astype(np.int8), prepend=0) > 0
        strikes = hits * rng.uniform(0.5, 1.0, above.size)
        return struck(strikes, BUZZ_RING_S, self.peak_db_spl, 1.0, grid, rng)


@dataclass(frozen=True, slots=True)
class Leak:
    """Air rushes through a gap of the box and hisses with the box's pressure."""

    peak_db_spl: float
    loud_m: float

    def pressure_pa(self, motion: Motion, rng: Generator) -> FloatArray:
        """Return the hiss: a turbulent jet's pressure grows faster than its speed."""
        grid = motion.grid
        flow = (np.abs(grid.signal(motion.excursion_m)) / self.loud_m) ** 1.5
        white = rng.standard_normal(flow.size)
        shape = signal.butter(2, HISS_HZ, "bandpass", fs=grid.rate_hz, output="sos")
        hiss = signal.sosfilt(shape, white) * flow
        return scaled_to_peak(hiss, self.peak_db_spl, float(flow.max()))


@dataclass(frozen=True, slots=True, eq=False)
class Arcs:
    """Arcs of a panel: how they sound at 1 m, and the voltage each one takes from it at once."""

    sound_pa: FloatArray
    drop_v: FloatArray  # zero but at a strike, with the sign of the voltage

    def load_v(self, grid: TimeGrid) -> ComplexArray:
        """Return the arcs as a voltage inside the panel's capacitance, which then recharges."""
        # charge C·drop at an instant is a current C·drop·rate in that sample; over 1/(sC)
        return -grid.spectrum(self.drop_v) * (grid.rate_hz / grid.s)


def arcs_of(
    voltage_v: FloatArray,
    loud_v: float,
    peak_db_spl: float,
    largest_drop_v: float,
    grid: TimeGrid,
    rng: Generator,
) -> Arcs:
    """Return the arcs of a panel that strike at random, far more often at high voltage."""
    likely = ARC_PER_S / grid.rate_hz * (np.abs(voltage_v) / loud_v) ** 4
    strikes = (rng.random(voltage_v.size) < likely) * rng.uniform(0.3, 1.0, voltage_v.size)
    sound_pa = struck(strikes, ARC_RING_S, peak_db_spl, 1.0, grid, rng)
    return Arcs(sound_pa, strikes * largest_drop_v * np.sign(voltage_v))


def struck(
    strikes: FloatArray,
    ring_s: float,
    peak_db_spl: float,
    strength_ratio: float,
    grid: TimeGrid,
    rng: Generator,
) -> FloatArray:
    """Return a decaying rattle started by every strike."""
    time_s = np.arange(round(8.0 * ring_s * grid.rate_hz)) / grid.rate_hz
    shape = signal.butter(2, RING_HZ, "bandpass", fs=grid.rate_hz, output="sos")
    ring = signal.sosfilt(shape, rng.standard_normal(time_s.size)) * np.exp(-time_s / ring_s)
    rattle = signal.oaconvolve(strikes, ring)[: strikes.size]
    return scaled_to_peak(rattle, peak_db_spl, strength_ratio)


def scaled_to_peak(sound: FloatArray, peak_db_spl: float, strength_ratio: float) -> FloatArray:
    """Return a sound scaled to a peak level times a strength; silence stays silence."""
    loudest = float(np.max(np.abs(sound)))
    if loudest == 0.0:
        return sound
    peak_pa = P0_PA * 10.0 ** (peak_db_spl / 20.0)
    return np.asarray(sound * (peak_pa * strength_ratio / loudest))
