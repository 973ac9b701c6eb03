"""The impedance of a network, and how each value moves it.

With one ampere at the terminals the derivative of the input impedance over the impedance of a
branch is the square of that branch's current, so one solution holds every sensitivity of Z
(Director and Rohrer, IEEE Trans. Circuit Theory 16(3), 1969, from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray
from station.diagnosis.circuit.branches import BranchAt, Slope
from station.diagnosis.circuit.elimination import Eliminated, eliminated
from station.diagnosis.circuit.network import Network

CHUNK_POINTS = 20_000  # variants times frequencies at once: what stays in a processor's cache


@dataclass(frozen=True, eq=False)  # no slots: what is asked for is kept
class Solution:
    """One ampere at the terminals of some variants."""

    values: FloatArray
    branches: tuple[BranchAt, ...]
    factors: Eliminated
    voltages: list[ComplexArray]
    z_ohm: ComplexArray

    @cached_property
    def currents(self) -> list[ComplexArray]:
        """The current in each branch per ampere at the terminals."""
        return [
            self.factors.across(self.voltages, number) / branch.z_ohm
            for number, branch in enumerate(self.branches)
        ]

    @cached_property
    def slopes(self) -> list[list[Slope]]:
        """How every value of each branch moves the branch's impedance."""
        return [list(branch.slopes()) for branch in self.branches]


def solution(network: Network, values: FloatArray, frequency_hz: FloatArray) -> Solution:
    """Return the network's state at values of shape (batch, n_values)."""
    s = (2j * np.pi * frequency_hz).astype(np.complex128)
    branches = tuple(branch.at(values, s) for branch in network.branches)
    factors = eliminated(network.plan, [1.0 / branch.z_ohm for branch in branches])
    voltages = factors.driven_at_terminal()
    leads_ohm = values[:, network.cable_column, np.newaxis]
    gain = values[:, network.gain_column, np.newaxis]
    return Solution(values, branches, factors, voltages, gain * (leads_ohm + voltages[-1]))


def impedance_ohm(
    network: Network, variables: FloatArray, frequency_hz: FloatArray
) -> ComplexArray:
    """Return the impedance of many variants of a unit.

    Parameters
    ----------
    network : Network
        Any.
    variables : ndarray, shape (batch, n_variables)
        Logarithms of ratios to nominal; zero is nominal.
    frequency_hz : ndarray, shape (n,)
        Above zero.

    Returns
    -------
    ndarray, shape (batch, n)
        Complex impedance as the station reads it, its leads included.

    Raises
    ------
    ValueError
        If the shapes do not fit the network.

    References
    ----------
    .. [1] Nodal analysis; compared with ngspice in tests/diagnosis/circuit/test_solver.py.
    """
    checked(variables, len(network.variables), frequency_hz)
    z_ohm = np.empty((variables.shape[0], frequency_hz.size), dtype=np.complex128)
    for some in chunks(variables.shape[0], frequency_hz.size):
        values = network.values(variables[some])
        z_ohm[some] = solution(network, values, frequency_hz).z_ohm
    return z_ohm


def chunks(variants: int, n: int) -> Iterator[slice]:
    """Yield some variants after others, as many at once as are fast at n frequencies."""
    size = max(1, CHUNK_POINTS // n)
    for first in range(0, variants, size):
        yield slice(first, first + size)


def impedance_slopes(
    network: Network, values: FloatArray, frequency_hz: FloatArray
) -> tuple[ComplexArray, ComplexArray]:
    """Return the impedance of some variants with its sensitivities, from one solution.

    Parameters
    ----------
    network : Network
        Any.
    values : ndarray, shape (batch, n_values)
        Of the parts, as `Network.values` returns them.
    frequency_hz : ndarray, shape (n,)
        Above zero.

    Returns
    -------
    tuple of ndarray
        Impedance (batch, n), and the derivative of its logarithm over every value,
        (batch, n_values, n).

    Raises
    ------
    ValueError
        If the shapes do not fit the network.

    References
    ----------
    .. [1] Director, Rohrer, IEEE Trans. Circuit Theory 16(3), 1969 (from memory).
    """
    checked(values, network.nominal.size, frequency_hz)
    return slopes_of_z(network, solution(network, values, frequency_hz), slice(None))


def slopes_of_z(
    network: Network, solved: Solution, cut: slice
) -> tuple[ComplexArray, ComplexArray]:
    """Return impedance and sensitivities at some of a solution's frequencies."""
    gain = solved.values[:, network.gain_column, np.newaxis]
    z_ohm = solved.z_ohm[:, cut]
    slopes = empty_slopes(network, z_ohm)
    ratio = gain / z_ohm
    for number, branch_slopes in enumerate(solved.slopes):
        squared = ratio * solved.currents[number][:, cut] ** 2
        for column, slope in branch_slopes:
            slopes[:, column] += squared * at_some(slope, cut)
    slopes[:, network.cable_column] = ratio
    slopes[:, network.gain_column] = 1.0 / gain
    return z_ohm, slopes


def at_some(slope: ComplexArray, cut: slice) -> ComplexArray:
    """Return a slope at some of its frequencies; it may be the same at all."""
    return slope if slope.shape[1] == 1 else slope[:, cut]


def empty_slopes(network: Network, z_ohm: ComplexArray) -> ComplexArray:
    """Return room for a derivative over every value."""
    batch, n = z_ohm.shape
    return np.zeros((batch, network.nominal.size, n), dtype=np.complex128)


def checked(rows: FloatArray, width: int, frequency_hz: FloatArray) -> None:
    """Raise ValueError if shapes do not fit a network."""
    if rows.ndim != 2 or rows.shape[1] != width:
        raise ValueError(f"need shape (batch, {width}); got {rows.shape}")
    if frequency_hz.ndim != 1 or np.any(frequency_hz <= 0.0):
        raise ValueError("need frequencies above zero, shape (n,)")
