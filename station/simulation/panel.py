"""An electrostatic panel: pressure follows bias times signal, and a square law where unbalanced."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator
from scipy import fft

from station.simulation.arrays import ComplexArray, FloatArray
from station.simulation.defects import arc_pressure_pa
from station.simulation.grid import TimeGrid
from station.simulation.radiation import Mode
from station.simulation.spread import Spread, spread_modes

REAR_RATIO = -0.9  # a dipole: the back pushes when the front pulls, through a grille


@dataclass(frozen=True, slots=True)
class Panel:
    """A panel at the end of a circuit's branch, driven by the voltage across its stators.

    The diaphragm carries a charge from `bias_v`; its force is proportional to bias times stator
    voltage, plus unbalance times voltage squared when it does not hang in the middle.
    """

    branch: str
    pressure_pa_v: float  # at 1 m per volt across the stators, at nominal bias
    bias_v: float  # nominal
    bias_ratio: float  # of the nominal bias that is there
    unbalance_ratio: float
    dipole_hz: float  # below, front and back cancel
    modes: tuple[Mode, ...]
    rolloff_hz: float
    loud_v: float  # peak across the stators with the standard stimulus
    arc_db_spl: float | None = None

    def shape(self, s: ComplexArray) -> ComplexArray:
        """Return the response's shape: dipole cancellation, diaphragm modes, roll-off."""
        x = s / (2.0 * np.pi * self.dipole_hz)
        shape = x / (1.0 + x) / (1.0 + s / (2.0 * np.pi * self.rolloff_hz))
        for mode in self.modes:
            shape = shape * mode.at(s)
        return np.asarray(shape)

    def linear_pa(self, voltage_v: ComplexArray, s: ComplexArray) -> ComplexArray:
        """Return the pressure that bias and signal make together."""
        return self.pressure_pa_v * self.bias_ratio * self.shape(s) * voltage_v

    def square_pa(self, voltage_v: ComplexArray, grid: TimeGrid) -> ComplexArray:
        """Return the pressure of the square law, computed at twice the rate: nothing folds."""
        doubled_v = fft.irfft(voltage_v, 2 * grid.n_padded) * 2.0
        squared = fft.rfft(doubled_v**2)[: voltage_v.size] / 2.0
        strength = self.pressure_pa_v * self.unbalance_ratio / self.bias_v
        return np.asarray(strength * self.shape(grid.s) * squared)

    def arcs_pa(self, voltage_v: ComplexArray, grid: TimeGrid, rng: Generator) -> FloatArray:
        """Return the cracks of arcing, or silence."""
        if self.arc_db_spl is None:
            return np.zeros(grid.n_samples)
        return arc_pressure_pa(grid.signal(voltage_v), self.loud_v, self.arc_db_spl, grid, rng)

    def behind(self, front_pa: ComplexArray) -> ComplexArray:
        """Return the pressure behind the panel."""
        return REAR_RATIO * front_pa


def spread_panel(panel: Panel, spread: Spread) -> Panel:
    """Return a produced panel: bias, gap and film tension vary."""
    tension = spread.factor("panel tension", 0.04)
    return replace(
        panel,
        pressure_pa_v=panel.pressure_pa_v * spread.factor("panel sensitivity", 0.03),
        bias_ratio=panel.bias_ratio * spread.factor("panel bias", 0.04),
        unbalance_ratio=panel.unbalance_ratio * spread.factor("panel unbalance", 0.6),
        modes=spread_modes(panel.modes, tension, spread, "panel"),
    )
