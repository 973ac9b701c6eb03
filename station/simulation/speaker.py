"""What every simulated unit can do, and the passive speaker: a circuit whose cones radiate."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.random import Generator

from station.simulation.arrays import ComplexArray, FloatArray
from station.simulation.circuit import Circuit, CircuitAt
from station.simulation.defects import Defect, Motion
from station.simulation.grid import TimeGrid
from station.simulation.panel import Panel
from station.simulation.radiation import Radiator
from station.simulation.relaxation import (
    Solution,
    Source,
    excursion_of,
    linear_solution,
    solution_of,
)


@dataclass(frozen=True, slots=True, eq=False)
class Emission:
    """Spectra of one run of one unit: at its terminals, and of its sound at 1 m."""

    terminal_v: ComplexArray
    current_a: ComplexArray
    front_pa: ComplexArray
    rear_pa: ComplexArray


class SimulatedUnit(Protocol):
    """One speaker with a serial number, as physics."""

    @property
    def model(self) -> str:
        """Name of its model."""

    def play(self, source: Source, grid: TimeGrid, rng: Generator) -> Emission:
        """Return what the unit does when driven, with everything nonlinear and noisy in it."""

    def impedance(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return the small-signal impedance in Ω at the terminals."""

    def response(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return the small-signal response in Pa per V, at 1 m without flight time."""


@dataclass(frozen=True, slots=True)
class Cone:
    """The radiating end of a circuit's branch."""

    branch: str
    radiator: Radiator
    defects: tuple[Defect, ...] = ()


@dataclass(frozen=True, slots=True)
class PassiveSpeaker:
    """A speaker without electronics of its own."""

    model: str
    circuit: Circuit
    cones: tuple[Cone, ...]
    panels: tuple[Panel, ...] = field(default=())

    def play(self, source: Source, grid: TimeGrid, rng: Generator) -> Emission:
        """Return what the speaker does when driven."""
        solution = solution_of(self.circuit.at(grid.s), source, grid)
        front_pa, rear_pa = self._linear_sound(solution, grid.s)
        extra_pa = np.zeros(grid.n_samples)
        for cone in self.cones:
            for defect in cone.defects:
                motion = Motion(excursion_of(solution.loads[cone.branch]), grid)
                extra_pa += defect.pressure_pa(motion, rng)
        for panel in self.panels:
            voltage_v = solution.loads[panel.branch].voltage_v
            bent_pa = panel.square_pa(voltage_v, grid)
            front_pa, rear_pa = front_pa + bent_pa, rear_pa + panel.behind(bent_pa)
            extra_pa += panel.arcs_pa(voltage_v, grid, rng)
        if extra_pa.any():
            extra = grid.spectrum(extra_pa)
            front_pa, rear_pa = front_pa + extra, rear_pa + extra
        return Emission(solution.terminal_v, solution.current_a, front_pa, rear_pa)

    def impedance(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return the small-signal impedance."""
        return np.asarray(1.0 / self._at(frequency_hz).admittance_s)

    def response(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return the small-signal response."""
        circuit = self._at(frequency_hz)
        source = Source(np.ones_like(circuit.s), np.zeros_like(circuit.s))
        return self._linear_sound(linear_solution(circuit, source, {}), circuit.s)[0]

    def _at(self, frequency_hz: FloatArray) -> CircuitAt:
        return self.circuit.at(np.asarray(2j * np.pi * frequency_hz))

    def _linear_sound(
        self, solution: Solution, s: ComplexArray
    ) -> tuple[ComplexArray, ComplexArray]:
        front_pa, rear_pa = np.zeros_like(s), np.zeros_like(s)
        for cone in self.cones:
            velocity = s * excursion_of(solution.loads[cone.branch])
            sound = cone.radiator.pressure_pa_m_s(s) * velocity
            front_pa += sound
            rear_pa += cone.radiator.rear_ratio(s) * sound
        for panel in self.panels:
            sound = panel.linear_pa(solution.loads[panel.branch].voltage_v, s)
            front_pa += sound
            rear_pa += panel.behind(sound)
        return front_pa, rear_pa
