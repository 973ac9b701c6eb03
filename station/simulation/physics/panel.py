"""An electrostatic panel: pressure follows bias times signal, and a little of its powers."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from scipy import fft

from station.simulation.arrays import ComplexArray, FloatArray
from station.simulation.physics.air import AIR_20C, Air
from station.simulation.physics.defects import P0_PA, Arcs, arcs_of
from station.simulation.physics.directivity import Arc
from station.simulation.physics.grid import TimeGrid
from station.simulation.physics.radiation import Mode

GRILLE_RATIO = 0.9  # of the sound that comes through behind
ARC_DROP_RATIO = 0.3  # step of the panel's own sound when an arc drains it, of the arc's crack


@dataclass(frozen=True, slots=True)
class Panel:
    """A panel at the end of a circuit's branch, driven by the voltage across its stators.

    The diaphragm carries a charge from `bias_v`. Its force is bias times stator voltage; where it
    does not hang in the middle, a square law adds `unbalance_ratio`·v²/bias; and what two stators
    in push-pull leave of odd orders, because the gaps change while it moves, is
    `residue_ratio`·v³/bias².
    """

    branch: str
    pressure_pa_v: float  # at 1 m per volt across the stators, at nominal bias
    bias_v: float  # nominal
    bias_ratio: float  # of the nominal bias that is there, once it has built up
    unbalance_ratio: float
    residue_ratio: float
    dipole_hz: float  # below, front and back cancel
    modes: tuple[Mode, ...]
    rolloff_hz: float
    arc: Arc
    charging_s: float  # time constant with which the bias builds up
    loud_v: float  # peak across the stators with the standard stimulus
    bias_on_s: float = math.inf  # how long it has been on when the stimulus begins
    arc_db_spl: float | None = None
    air: Air = AIR_20C

    def shape(self, s: ComplexArray) -> ComplexArray:
        """Return the response's shape: dipole cancellation, diaphragm modes, roll-off."""
        x = s / (2.0 * np.pi * self.dipole_hz)
        shape = x / (1.0 + x) / (1.0 + s / (2.0 * np.pi * self.rolloff_hz))
        for mode in self.modes:
            shape = shape * mode.at(s)
        return np.asarray(shape)

    def bias_at(self, since_s: FloatArray) -> FloatArray:
        """Return the share of the nominal bias so long after the stimulus began."""
        charged = -np.expm1(-(self.bias_on_s + since_s) / self.charging_s)
        return np.asarray(self.bias_ratio * charged)

    def linear_pa(self, voltage_v: ComplexArray, s: ComplexArray) -> ComplexArray:
        """Return the pressure of small signals, with the bias as it is when they begin."""
        bias_ratio = float(self.bias_at(np.zeros(1))[0])
        return self.pressure_pa_v * bias_ratio * self.shape(s) * voltage_v

    def sound_pa(self, voltage_v: ComplexArray, grid: TimeGrid) -> ComplexArray:
        """Return the pressure in front, residues and a building bias included."""
        if math.isinf(self.bias_on_s):
            charged_v = self.bias_ratio * voltage_v
        else:
            since_s = np.arange(grid.n_padded) / grid.rate_hz
            charged_v = fft.rfft(self.bias_at(since_s) * grid.padded_signal(voltage_v))
        driven_v = charged_v + self.bent_v(voltage_v, grid)
        return np.asarray(self.pressure_pa_v * self.shape(grid.s) * driven_v)

    def bent_v(self, voltage_v: ComplexArray, grid: TimeGrid) -> ComplexArray:
        """Return what the powers of the voltage amount to, as a voltage at nominal bias.

        Computed at twice the rate: a square folds nowhere, a cube only where there is nothing.
        """
        relative = fft.irfft(voltage_v, 2 * grid.n_padded) * (2.0 / self.bias_v)
        odd_ratio = self.residue_ratio * self.bias_ratio  # without charge no force of odd order
        bent = relative**2 * (self.unbalance_ratio + odd_ratio * relative)
        return np.asarray(fft.rfft(bent)[: voltage_v.size] * (0.5 * self.bias_v))

    def arcs(self, voltage_v: ComplexArray, grid: TimeGrid, rng: Generator) -> Arcs | None:
        """Return the arcs that a voltage strikes, or None if the panel is sound."""
        if self.arc_db_spl is None:
            return None
        drop_v = ARC_DROP_RATIO * P0_PA * 10.0 ** (self.arc_db_spl / 20.0) / self.pressure_pa_v
        return arcs_of(grid.signal(voltage_v), self.loud_v, self.arc_db_spl, drop_v, grid, rng)

    def ratio_at(self, s: ComplexArray, angle_deg: float) -> ComplexArray:
        """Return pressure at an angle over pressure in front; behind, through a grille."""
        behind = math.cos(math.radians(angle_deg)) < 0.0
        return (GRILLE_RATIO if behind else 1.0) * self.arc.ratio(s, angle_deg, self.air)
