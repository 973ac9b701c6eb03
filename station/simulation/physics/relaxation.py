"""A circuit driven by a source, with what the drivers' curves add found by relaxation.

The linear circuit is solved by transform. What changes with excursion and current is then worked
out in time as an extra force on the cone and an extra voltage in the coil, fed through the same
linear circuit, and so on until the excursions stop changing (waveform relaxation, a fixed-point
iteration on whole waveforms).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from station.errors import StationFaultError
from station.simulation.arrays import ComplexArray
from station.simulation.physics.circuit import BranchAt, CircuitAt
from station.simulation.physics.drivers import Driver
from station.simulation.physics.grid import Band, TimeGrid

SETTLED_RATIO = 1e-6  # change of an excursion between two rounds, relative to itself
MOST_ROUNDS = 60


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """What drives the circuit, per frequency: open-circuit voltage and source impedance."""

    voltage_v: ComplexArray
    impedance_ohm: ComplexArray

    def first(self, bins: int) -> Source:
        """Return the source at its first frequencies only."""
        return Source(self.voltage_v[:bins], self.impedance_ohm[:bins])


@dataclass(frozen=True, slots=True, eq=False)
class Extra:
    """What is added to a load's linear equations: a voltage and, to a driver's, a force."""

    force_n: ComplexArray  # empty for a load without a cone
    voltage_v: ComplexArray

    def padded_to(self, bins: int) -> Extra:
        """Return the same with zeros above its band."""
        missing = bins - self.force_n.size
        return Extra(np.pad(self.force_n, (0, missing)), np.pad(self.voltage_v, (0, missing)))


@dataclass(frozen=True, slots=True, eq=False)
class LoadState:
    """One branch's load: voltage and current, and the excursion if it is a driver."""

    voltage_v: ComplexArray
    current_a: ComplexArray
    excursion_m: ComplexArray | None


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Spectra of a solved run."""

    terminal_v: ComplexArray
    current_a: ComplexArray
    loads: Mapping[str, LoadState]


def solution_of(circuit: CircuitAt, source: Source, grid: TimeGrid) -> Solution:
    """Return the full-band solution; raise StationFaultError if none is found."""
    return linear_solution(circuit, source, settled_extras(circuit, source, grid))


def settled_extras(circuit: CircuitAt, source: Source, grid: TimeGrid) -> dict[str, Extra]:
    """Return what bends each driver, over the full band; raise StationFaultError if unsettled."""
    bands = {
        branch.name: grid.band_to(branch.load.linear_above_hz)
        for branch in circuit.branches
        if isinstance(branch.load, Driver)
    }
    bins = max((band.bins for band in bands.values()), default=1)
    with np.errstate(over="ignore", invalid="ignore"):  # diverging ends in the refusal
        extras = extras_of(circuit.first(bins), source.first(bins), bands)
    return {name: extra.padded_to(circuit.s.size) for name, extra in extras.items()}


def extras_of(circuit: CircuitAt, source: Source, bands: Mapping[str, Band]) -> Mapping[str, Extra]:
    """Return what bends each driver, once its excursion has settled."""
    extras: dict[str, Extra] = {}
    before: dict[str, ComplexArray] = {}
    for _ in range(MOST_ROUNDS):
        solution = linear_solution(circuit, source, extras)
        excursions = {name: excursion_of(solution.loads[name]) for name in bands}
        moving = [
            name
            for name, excursion_m in excursions.items()
            if name not in before or not settled(excursion_m, before[name])
        ]
        if not moving:
            return extras
        before = excursions
        for branch in circuit.branches:
            if branch.name in moving:
                extra = extra_of(branch, solution.loads[branch.name], circuit.s, bands[branch.name])
                extras[branch.name] = extra.padded_to(circuit.s.size)
    raise StationFaultError(
        "The simulated speaker is driven beyond what can be computed.",
        "Lower the stimulus level in the limit file, or make the fault milder.",
    )


def settled(now: ComplexArray, before: ComplexArray) -> bool:
    """Return whether an excursion has stopped changing."""
    change, size = power_of(now - before), power_of(now)
    return math.isfinite(change) and change <= SETTLED_RATIO**2 * size


def power_of(spectrum: ComplexArray) -> float:
    """Return a spectrum's power; numpy's norm would wake threads, which costs far more than it."""
    return float(np.sum(spectrum.real**2 + spectrum.imag**2))


def linear_solution(circuit: CircuitAt, source: Source, extras: Mapping[str, Extra]) -> Solution:
    """Return the solution with the given extra forces and voltages taken as known."""
    inner = {
        branch.name: inner_voltage(branch, extras[branch.name], circuit.s)
        for branch in circuit.branches
        if branch.name in extras
    }
    admittance_s = circuit.admittance_s
    injected_a = sum(
        (inner[branch.name] / branch.transfer_ohm)
        for branch in circuit.branches
        if branch.name in inner
    )
    terminal_v = (source.voltage_v + source.impedance_ohm * injected_a) / (
        1.0 + source.impedance_ohm * admittance_s
    )
    loads = {
        branch.name: load_state(branch, terminal_v, inner.get(branch.name), extras)
        for branch in circuit.branches
    }
    return Solution(terminal_v, admittance_s * terminal_v - injected_a, loads)


def inner_voltage(branch: BranchAt, extra: Extra, s: ComplexArray) -> ComplexArray:
    """Return the voltage inside a load that its extra force and voltage amount to."""
    if branch.driver is None:
        return extra.voltage_v
    moved = s * branch.driver.force_tm / branch.driver.stiffness_n_m
    return moved * extra.force_n + extra.voltage_v


def load_state(
    branch: BranchAt,
    terminal_v: ComplexArray,
    inner_v: ComplexArray | None,
    extras: Mapping[str, Extra],
) -> LoadState:
    """Return voltage, current and excursion of one branch's load."""
    if inner_v is None:
        current_a = terminal_v / branch.transfer_ohm
        voltage_v = branch.load_ohm * current_a
    else:
        current_a = (terminal_v - branch.voltage_ratio * inner_v) / branch.transfer_ohm
        voltage_v = branch.load_ohm * current_a + inner_v
    if branch.driver is None:
        return LoadState(voltage_v, current_a, None)
    pushed_n = branch.driver.force_tm * current_a
    if inner_v is not None:
        pushed_n = pushed_n + extras[branch.name].force_n
    return LoadState(voltage_v, current_a, pushed_n / branch.driver.stiffness_n_m)


def extra_of(branch: BranchAt, load: LoadState, s: ComplexArray, band: Band) -> Extra:
    """Return what the present waveforms add to one driver's linear equations."""
    driver = branch.load
    if not isinstance(driver, Driver) or branch.driver is None:
        raise ValueError(f"{branch.name} has no cone")
    live = 1.0 - driver.shorted_ratio
    curves = driver.curves
    x_m = band.signal(excursion_of(load))
    v_m_s = band.signal(s * excursion_of(load))
    i_a = band.signal(load.current_a)
    force_tm = driver.force_factor_tm * live * (curves.force_ratio(x_m, i_a) - 1.0)
    inductance_h = driver.coil_inductance_h * live**2
    force_n = (
        force_tm * i_a
        - driver.stiffness_n_m * (curves.stiffness_ratio(x_m) - 1.0) * x_m
        + 0.5 * i_a**2 * inductance_h * curves.coil_gradient_per_m(x_m)
    )
    coil_a = band.spectrum((curves.coil_ratio(x_m) - 1.0) * i_a)
    voltage_v = band.spectrum(force_tm * v_m_s) + branch.driver.coil_ohm[: band.bins] * coil_a
    return Extra(band.spectrum(force_n), voltage_v)


def excursion_of(load: LoadState) -> ComplexArray:
    """Return a load's excursion; raise ValueError if it has no cone."""
    if load.excursion_m is None:
        raise ValueError("this load has no cone")
    return load.excursion_m
