"""How loud the drivers and panels of a network are, and how each value moves that.

The derivative of the voltage across a branch over the impedance of another is the product of that
other branch's currents in two solutions: one driven at the terminals, one driven at the first
branch (Director and Rohrer, IEEE Trans. Circuit Theory 16(3), 1969, from memory).
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray
from station.diagnosis.circuit.building import NEPER_DB
from station.diagnosis.circuit.network import Network, Output
from station.diagnosis.circuit.solver import (
    Solution,
    at_some,
    checked,
    chunks,
    empty_slopes,
    slopes_of_z,
    solution,
)


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
    for some in chunks(variables.shape[0], frequency_hz.size):
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
    return slopes_of_levels(network, solution(network, values, outputs_hz(network)), slice(None))


def slopes_of_all(
    network: Network, values: FloatArray, frequency_hz: FloatArray
) -> tuple[ComplexArray, ComplexArray, FloatArray, FloatArray]:
    """Return what `impedance_slopes` and `level_slopes` return, from one solution of both."""
    checked(values, network.nominal.size, frequency_hz)
    count = frequency_hz.size
    every_hz = np.concatenate((frequency_hz, outputs_hz(network)))
    solved = solution(network, values, every_hz)
    z_ohm, slopes = slopes_of_z(network, solved, slice(0, count))
    return z_ohm, slopes, *slopes_of_levels(network, solved, slice(count, None))


def outputs_hz(network: Network) -> FloatArray:
    """Return the frequencies of all outputs behind each other."""
    return np.array([hz for output in network.outputs for hz in output.frequency_hz])


def slopes_of_levels(
    network: Network, solved: Solution, cut: slice
) -> tuple[FloatArray, FloatArray]:
    """Return levels and derivatives from those frequencies of a solution that are the outputs'."""
    batch = solved.values.shape[0]
    levels = np.zeros((batch, len(network.outputs)))
    slopes = np.zeros((batch, network.nominal.size, len(network.outputs)))
    if not network.outputs:
        return levels, slopes
    gain = solved.values[:, network.gain_column, np.newaxis]
    total_ohm = solved.z_ohm[:, cut] / gain
    own = own_frequencies(network)
    transfer = np.empty_like(total_ohm)
    for output, heard in zip(network.outputs, own, strict=True):
        sounding = at_some(solved.branches[output.branch].output_ratio(), cut)
        transfer[:, heard] = (solved.currents[output.branch][:, cut] * sounding)[:, heard]
    loudness_db = NEPER_DB * np.log(np.abs(transfer / total_ohm))
    over = slopes_of_transfer(network, solved, cut, total_ohm)
    for number, (output, heard) in enumerate(zip(network.outputs, own, strict=True)):
        levels[:, number] = np.mean(loudness_db[:, heard], axis=1)
        levels[:, number] += solved.values[:, output.gain_column]
        slopes[:, :, number] = NEPER_DB * np.mean(over.real[:, :, heard], axis=2)
        slopes[:, output.gain_column, number] = 1.0
    return levels, slopes


def slopes_of_transfer(
    network: Network, solved: Solution, cut: slice, total_ohm: ComplexArray
) -> ComplexArray:
    """Return the derivative of the logarithm of what sounds, over every value.

    Each output is driven at its own frequencies only, so that one adjoint solution serves all.
    """
    own = own_frequencies(network)
    factors = solved.factors.some(cut)
    voltages = [voltage[:, cut] for voltage in solved.voltages]
    across = np.empty_like(total_ohm)
    amperes: dict[int, FloatArray] = {}
    for output, heard in zip(network.outputs, own, strict=True):
        for node, sign in zip(factors.plan.ends[output.branch], (1.0, -1.0), strict=True):
            amperes.setdefault(node, np.zeros(total_ohm.shape[1]))[heard] += sign
        across[:, heard] = factors.across(voltages, output.branch)[:, heard]
    driven = factors.driven_by(amperes)
    slopes = empty_slopes(network, total_ohm)
    for number, branch in enumerate(solved.branches):
        current, branch_ohm = solved.currents[number][:, cut], branch.z_ohm[:, cut]
        adjoint = factors.across(driven, number) / branch_ohm
        moved = current * (adjoint / across - current / total_ohm)
        for output, heard in zip(network.outputs, own, strict=True):
            if output.branch == number:
                moved[:, heard] -= 1.0 / branch_ohm[:, heard]
                for column, slope in branch.output_slopes():
                    slopes[:, column, heard] += at_some(at_some(slope, cut), heard)
        for column, slope in solved.slopes[number]:
            slopes[:, column] += moved * at_some(slope, cut)
    slopes[:, network.cable_column] = -1.0 / total_ohm
    return slopes


def own_frequencies(network: Network) -> list[slice]:
    """Return where each output's frequencies stand among those of all."""
    ends = np.cumsum([0, *(len(output.frequency_hz) for output in network.outputs)])
    return [slice(int(first), int(last)) for first, last in pairwise(ends)]


def transfer_of(network: Network, solved: Solution, output: Output) -> ComplexArray:
    """Return what an output gives per volt at the station's sense points."""
    gain = solved.values[:, network.gain_column, np.newaxis]
    sounding = solved.branches[output.branch]
    transfer: ComplexArray = (
        solved.currents[output.branch] * sounding.output_ratio() * gain / solved.z_ohm
    )
    return transfer
