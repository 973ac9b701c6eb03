"""The impedance and the sound of a network, and how each variable moves them.

Two theorems keep it short (Director and Rohrer, IEEE Trans. Circuit Theory 16(3), 1969, from
memory): with one ampere at the terminals the derivative of the input impedance over the impedance
of a branch is the square of that branch's current, so one solution holds every sensitivity of Z;
and that of the voltage across another branch is the product of the branch's currents in this
solution and in a second one, driven there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray
from station.diagnosis.branches import BranchAt, Slope
from station.diagnosis.building import NEPER_DB
from station.diagnosis.elimination import Eliminated, eliminated
from station.diagnosis.network import Network, Output

CHUNK_POINTS = 20_000  # variants times frequencies at once: what stays in a processor's cache


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """One ampere at the terminals of some variants."""

    values: FloatArray
    branches: tuple[BranchAt, ...]
    factors: Eliminated
    voltages: list[ComplexArray]
    z_ohm: ComplexArray

    def current(self, branch: int) -> ComplexArray:
        """Return the current in a branch per ampere at the terminals."""
        return self.factors.across(self.voltages, branch) / self.branches[branch].z_ohm


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
    .. [1] Nodal analysis; compared with ngspice in tests/diagnosis/test_solver.py.
    """
    checked(variables, len(network.variables), frequency_hz)
    z_ohm = np.empty((variables.shape[0], frequency_hz.size), dtype=np.complex128)
    chunk = max(1, CHUNK_POINTS // frequency_hz.size)
    for first in range(0, variables.shape[0], chunk):
        some = slice(first, first + chunk)
        values = network.values(variables[some])
        z_ohm[some] = solution(network, values, frequency_hz).z_ohm
    return z_ohm


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
    solved = solution(network, values, frequency_hz)
    gain = values[:, network.gain_column, np.newaxis]
    slopes = empty_slopes(network, solved)
    for number, branch in enumerate(solved.branches):
        squared = gain * solved.current(number) ** 2 / solved.z_ohm
        for column, slope in branch.slopes():
            slopes[:, column] += squared * slope
    slopes[:, network.cable_column] = gain / solved.z_ohm
    slopes[:, network.gain_column] = 1.0 / gain
    return solved.z_ohm, slopes


def empty_slopes(network: Network, solved: Solution) -> ComplexArray:
    """Return room for a derivative over every value."""
    batch, n = solved.z_ohm.shape
    return np.zeros((batch, network.nominal.size, n), dtype=np.complex128)


def levels_db(network: Network, variables: FloatArray) -> FloatArray:
    """Return the level of every output per volt at the terminals.

    Parameters
    ----------
    network : Network
        With outputs.
    variables : ndarray, shape (batch, n_variables)
        Logarithms of ratios to nominal.

    Returns
    -------
    ndarray, shape (batch, n_outputs)
        Mean over the section's frequencies, in dB re an arbitrary constant of each output.

    Raises
    ------
    ValueError
        If the shapes do not fit the network.

    References
    ----------
    .. [1] A cone's pressure follows its acceleration, a panel's its charge (IEC 60268-5 has the
       level; the physics are common practice, no source).
    """
    checked(variables, len(network.variables), np.ones(1))
    return level_slopes(network, network.values(variables))[0]


def outputs_per_volt(
    network: Network, variables: FloatArray, frequency_hz: FloatArray
) -> ComplexArray:
    """Return what every output gives per volt at the terminals.

    Parameters
    ----------
    network : Network
        With outputs.
    variables : ndarray, shape (batch, n_variables)
        Logarithms of ratios to nominal; zero is nominal.
    frequency_hz : ndarray, shape (n,)
        Above zero.

    Returns
    -------
    ndarray, shape (n_outputs, batch, n)
        Complex, each output re an arbitrary constant of its own.

    Raises
    ------
    ValueError
        If the shapes do not fit the network.

    References
    ----------
    .. [1] As `levels_db`.
    """
    checked(variables, len(network.variables), frequency_hz)
    shape = (len(network.outputs), variables.shape[0], frequency_hz.size)
    found = np.empty(shape, dtype=np.complex128)
    chunk = max(1, CHUNK_POINTS // frequency_hz.size)
    for first in range(0, variables.shape[0], chunk):
        some = slice(first, first + chunk)
        values = network.values(variables[some])
        solved = solution(network, values, frequency_hz)
        for number, output in enumerate(network.outputs):
            gain_neper = values[:, output.gain_column, np.newaxis] / NEPER_DB
            found[number, some] = transfer_of(network, solved, output) * np.exp(gain_neper)
    return found


def level_slopes(network: Network, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the outputs' levels in dB, and their derivatives over every value.

    Parameters
    ----------
    network : Network
        With outputs.
    values : ndarray, shape (batch, n_values)
        Of the parts, as `Network.values` returns them.

    Returns
    -------
    tuple of ndarray
        Levels (batch, n_outputs), and derivatives (batch, n_values, n_outputs).

    Raises
    ------
    ValueError
        If the shapes do not fit the network.

    References
    ----------
    .. [1] Director, Rohrer, IEEE Trans. Circuit Theory 16(3), 1969 (from memory).
    """
    checked(values, network.nominal.size, np.ones(1))
    levels = np.zeros((values.shape[0], len(network.outputs)))
    slopes = np.zeros((*values.shape, len(network.outputs)))
    if not network.outputs:
        return levels, slopes
    # All outputs share one solution; each reads its own frequencies from it.
    counts = [len(output.frequency_hz) for output in network.outputs]
    every_hz = np.concatenate([np.array(output.frequency_hz) for output in network.outputs])
    solved = solution(network, values, every_hz)
    own = [list(branch.slopes()) for branch in solved.branches]
    currents = [solved.current(number) for number in range(len(solved.branches))]
    for number, output in enumerate(network.outputs):
        first = sum(counts[:number])
        heard = slice(first, first + counts[number])
        transfer = transfer_of(network, solved, output)[:, heard]
        levels[:, number] = NEPER_DB * np.mean(np.log(np.abs(transfer)), axis=1)
        over = transfer_slopes(network, solved, output, own, currents)[:, :, heard]
        slopes[:, :, number] = NEPER_DB * np.mean(over.real, axis=2)
        levels[:, number] += values[:, output.gain_column]
        slopes[:, output.gain_column, number] = 1.0
    return levels, slopes


def transfer_of(network: Network, solved: Solution, output: Output) -> ComplexArray:
    """Return what an output gives per volt at the station's sense points."""
    gain = solved.values[:, network.gain_column, np.newaxis]
    sounding = solved.branches[output.branch]
    transfer: ComplexArray = (
        solved.current(output.branch) * sounding.output_ratio() * gain / solved.z_ohm
    )
    return transfer


def transfer_slopes(
    network: Network,
    solved: Solution,
    output: Output,
    own: list[list[Slope]],
    currents: list[ComplexArray],
) -> ComplexArray:
    """Return the derivative of the logarithm of an output over every value.

    `own` are the slopes of all branches, `currents` theirs per ampere at the terminals.
    """
    across = solved.factors.across(solved.voltages, output.branch)
    driven = solved.factors.driven_between(*solved.factors.plan.ends[output.branch])
    total_ohm = solved.z_ohm / solved.values[:, network.gain_column, np.newaxis]
    slopes = empty_slopes(network, solved)
    for number, branch in enumerate(solved.branches):
        current = currents[number]
        adjoint = solved.factors.across(driven, number) / branch.z_ohm
        moved = current * adjoint / across - current**2 / total_ohm
        if number == output.branch:
            moved = moved - 1.0 / branch.z_ohm
            for column, slope in branch.output_slopes():
                slopes[:, column] += slope
        for column, slope in own[number]:
            slopes[:, column] += moved * slope
    slopes[:, network.cable_column] = -1.0 / total_ohm
    return slopes


def checked(rows: FloatArray, width: int, frequency_hz: FloatArray) -> None:
    """Raise ValueError if shapes do not fit a network."""
    if rows.ndim != 2 or rows.shape[1] != width:
        raise ValueError(f"need shape (batch, {width}); got {rows.shape}")
    if frequency_hz.ndim != 1 or np.any(frequency_hz <= 0.0):
        raise ValueError("need frequencies above zero, shape (n,)")
