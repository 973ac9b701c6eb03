"""What every simulated unit can do, and the passive speaker: a circuit whose cones radiate."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.random import Generator

from station.simulation.arrays import ComplexArray, FloatArray
from station.simulation.physics.circuit import Circuit, CircuitAt
from station.simulation.physics.defects import Defect, Motion
from station.simulation.physics.grid import TimeGrid
from station.simulation.physics.panel import Panel
from station.simulation.physics.radiation import Radiator
from station.simulation.physics.relaxation import (
    Extra,
    Solution,
    Source,
    excursion_of,
    linear_solution,
    settled_extras,
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
        """Return the small-signal response in Pa per V, at 1 m without flight time.

        Where the microphone stands, and how long a bias has been on, the unit was told when it
        was built (see `conditions`).
        """


class Sounding(Protocol):
    """A diaphragm that radiates."""

    def ratio_at(self, s: ComplexArray, angle_deg: float) -> ComplexArray:
        """Return pressure at an angle over pressure in front."""


Sound = tuple[Sounding, ComplexArray]  # a diaphragm with its pressure in front


@dataclass(frozen=True, slots=True)
class Cone:
    """The radiating end of a circuit's branch."""

    branch: str
    radiator: Radiator
    defects: tuple[Defect, ...] = ()

    def sound_pa(self, solution: Solution, s: ComplexArray) -> ComplexArray:
        """Return the pressure in front."""
        velocity_m_s = s * excursion_of(solution.loads[self.branch])
        return self.radiator.pressure_pa_m_s(s) * velocity_m_s

    def ratio_at(self, s: ComplexArray, angle_deg: float) -> ComplexArray:
        """Return pressure at an angle over pressure in front."""
        return self.radiator.ratio_at(s, angle_deg)


@dataclass(frozen=True, slots=True)
class PassiveSpeaker:
    """A speaker without electronics of its own; `angle_deg` is where the microphone stands."""

    model: str
    circuit: Circuit
    cones: tuple[Cone, ...]
    panels: tuple[Panel, ...] = field(default=())
    angle_deg: float = 0.0

    def play(self, source: Source, grid: TimeGrid, rng: Generator) -> Emission:
        """Return what the speaker does when driven."""
        circuit = self.circuit.at(grid.s)
        solution, own_pa = self._solved(circuit, source, grid, rng)
        cones: list[Sound] = [(cone, cone.sound_pa(solution, grid.s)) for cone in self.cones]
        panels: list[Sound] = [
            (panel, panel.sound_pa(solution.loads[panel.branch].voltage_v, grid))
            for panel in self.panels
        ]
        front_pa = added_up(cones + panels, grid.s, self.angle_deg)
        rear_pa = added_up(cones + panels, grid.s, self.angle_deg + 180.0)
        if own_pa.any():  # noises of defects go everywhere alike
            own = grid.spectrum(own_pa)
            front_pa, rear_pa = front_pa + own, rear_pa + own
        return Emission(solution.terminal_v, solution.current_a, front_pa, rear_pa)

    def impedance(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return the small-signal impedance."""
        return np.asarray(1.0 / self._at(frequency_hz).admittance_s)

    def response(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return the small-signal response."""
        circuit = self._at(frequency_hz)
        s = circuit.s
        solution = linear_solution(circuit, Source(np.ones_like(s), np.zeros_like(s)), {})
        cones: list[Sound] = [(cone, cone.sound_pa(solution, s)) for cone in self.cones]
        panels: list[Sound] = [
            (panel, panel.linear_pa(solution.loads[panel.branch].voltage_v, s))
            for panel in self.panels
        ]
        return added_up(cones + panels, s, self.angle_deg)

    def _at(self, frequency_hz: FloatArray) -> CircuitAt:
        return self.circuit.at(np.asarray(2j * np.pi * frequency_hz))

    def _solved(
        self, circuit: CircuitAt, source: Source, grid: TimeGrid, rng: Generator
    ) -> tuple[Solution, FloatArray]:
        """Return the solution, arcs included, and what the defects sound like by themselves."""
        extras = settled_extras(circuit, source, grid)
        solution = linear_solution(circuit, source, extras)
        own_pa = np.zeros(grid.n_samples)
        for cone in self.cones:
            for defect in cone.defects:
                motion = Motion(excursion_of(solution.loads[cone.branch]), grid)
                own_pa += defect.pressure_pa(motion, rng)
        drained: dict[str, Extra] = {}
        for panel in self.panels:
            arcs = panel.arcs(solution.loads[panel.branch].voltage_v, grid, rng)
            if arcs is not None:
                own_pa += arcs.sound_pa
                drained[panel.branch] = Extra(np.zeros(0, np.complex128), arcs.load_v(grid))
        if drained:
            solution = linear_solution(circuit, source, extras | drained)
        return solution, own_pa


def added_up(sounds: Iterable[Sound], s: ComplexArray, angle_deg: float) -> ComplexArray:
    """Return the sound of all diaphragms at an angle."""
    total_pa = np.zeros_like(s)
    for diaphragm, front_pa in sounds:
        total_pa += front_pa if angle_deg == 0.0 else diaphragm.ratio_at(s, angle_deg) * front_pa
    return total_pa
