"""What good units show beyond the model, and where their drivers' values lie.

A netlist holds what the designer knows. A sweep is not a small signal, a box leaks, and a lossy
coil's two values are on no drawing: all that is learned from units that passed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.readings import Readings
from station.diagnosis.circuit.building import network_of
from station.diagnosis.circuit.loudness import levels_db
from station.diagnosis.circuit.network import Mode, Network
from station.diagnosis.fits.fitting import good_fit
from station.diagnosis.fits.hypotheses import hypotheses_of
from station.diagnosis.measured import evidence_of
from station.judging.tables.netlisttables import LearnedTable, NetlistTable, OutputTable
from station.judging.tables.readingtables import SectionTable

LEAST_UNITS = 25
LEAST_SPREAD_RATIO = 0.001  # an analyser's own claim; a spread of few units may be less by chance
LEAST_SPREAD_DB = 0.3
ROUNDS = 3
# Of a change, how much a large signal bends otherwise than a good unit's: what simulated units
# with large mechanical faults show. No real unit was measured.
CHANGE_ERROR_RATIO = 0.03
SQUARE_SIGMAS = 4.0
DRIVER_FIELDS = {
    Mode.RE: "re_ohm",
    Mode.FORCE: "force_factor_tm",
    Mode.MASS: "moving_mass_kg",
    Mode.STIFFNESS: "stiffness_n_m",
    Mode.FRICTION: "friction_kg_s",
    Mode.COIL: "coil_ohm_sn",
    Mode.EXPONENT: "coil_exponent",
}


@dataclass(frozen=True, slots=True, eq=False)
class Population:
    """Good units fitted: their variables (n_units, n_variables), and what the fit leaves."""

    network: Network
    frequency_hz: FloatArray
    variables: FloatArray
    left: ComplexArray  # ln(measured/model), (n_units, n)
    level_left_db: FloatArray  # (n_units, n_outputs)
    squares: FloatArray  # (n_units,), chi-square with all priors


def learned_netlist(
    netlist: NetlistTable, sections: tuple[SectionTable, ...], units: Sequence[Readings]
) -> NetlistTable:
    """Return a netlist with what good units teach.

    Parameters
    ----------
    netlist : NetlistTable
        As designed; what it learned before is forgotten.
    sections : tuple of SectionTable
        Of the same limit file.
    units : sequence of Readings
        Each with impedance and sections, 25 or more.

    Returns
    -------
    NetlistTable
        Its drivers' values are the means of those found, its levels those of the units.

    Raises
    ------
    ValueError
        If there are fewer units.

    References
    ----------
    .. [1] Mean and standard deviation of residuals; a lossy coil's two values need 25 units or
       more, from experience, no source.
    """
    if len(units) < LEAST_UNITS:
        raise ValueError(f"need {LEAST_UNITS} units; got {len(units)}")
    taught = netlist.model_copy(update={"learned": None})
    for _ in range(ROUNDS):
        taught = centred(taught, population_of(taught, sections, units))
        taught = with_learned(taught, population_of(taught, sections, units))
    return with_square(taught, population_of(taught, sections, units))


def population_of(
    netlist: NetlistTable, sections: tuple[SectionTable, ...], units: Sequence[Readings]
) -> Population:
    """Return the units fitted as good ones."""
    network = network_of(netlist, sections)
    nothing = hypotheses_of(network)[0]
    variables, left, levels, squares = [], [], [], []
    frequency_hz = np.empty(0)
    for readings in units:
        evidence = evidence_of(readings, netlist, network)
        frequency_hz = evidence.frequency_hz
        found, beyond, square = good_fit(network, evidence, nothing)
        squares.append(square)
        variables.append(found)
        left.append(beyond)
        of_parts_db = levels_db(network, found[np.newaxis])[0] - evidence.nominal_db
        levels.append(evidence.level_db - of_parts_db)
    return Population(
        network,
        frequency_hz,
        np.array(variables),
        np.array(left),
        np.array(levels),
        np.array(squares),
    )


def centred(netlist: NetlistTable, found: Population) -> NetlistTable:
    """Return a netlist whose drivers' values are the means of those found."""
    drivers = []
    for driver in netlist.drivers:
        changes: dict[str, float] = {}
        for mode, name in DRIVER_FIELDS.items():
            moved = float(np.mean(found.variables[:, found.network.place(driver.name, mode)]))
            value = getattr(driver, name)
            changes[name] = value + moved if mode is Mode.EXPONENT else value * np.exp(moved)
        drivers.append(driver.model_copy(update={k: float(v) for k, v in changes.items()}))
    return netlist.model_copy(update={"drivers": tuple(drivers)})


def with_learned(netlist: NetlistTable, found: Population) -> NetlistTable:
    """Return a netlist with the mean of what the fits leave, and its spread."""
    before = netlist.learned
    mean = np.mean(found.left, axis=0)
    away = found.left - mean
    spread = np.sqrt(0.5 * np.mean(away.real**2 + away.imag**2, axis=0))
    spread = np.maximum(smoothed(spread), LEAST_SPREAD_RATIO)
    known = 0.0 if before is None else np.array(before.real) + 1j * np.array(before.imaginary)
    total = mean + known
    learned = LearnedTable(
        units=found.left.shape[0],
        change_error_ratio=CHANGE_ERROR_RATIO,
        good_square=1.0,
        hz=tuple(map(float, found.frequency_hz)),
        real=tuple(map(float, total.real)),
        imaginary=tuple(map(float, total.imag)),
        spread=tuple(map(float, spread)),
    )
    outputs = tuple(
        taught_output(output, found.level_left_db[:, at])
        for at, output in enumerate(netlist.outputs)
    )
    return netlist.model_copy(update={"learned": learned, "outputs": outputs})


def with_square(netlist: NetlistTable, found: Population) -> NetlistTable:
    """Return a taught netlist with the chi-square that no good unit exceeds."""
    if netlist.learned is None:
        return netlist
    largest = float(np.mean(found.squares) + SQUARE_SIGMAS * np.std(found.squares))
    learned = netlist.learned.model_copy(update={"good_square": largest})
    return netlist.model_copy(update={"learned": learned})


def taught_output(output: OutputTable, left_db: FloatArray) -> OutputTable:
    """Return an output with the level that good units have beside what their parts make of it."""
    changes = {
        "mean_db": output.mean_db + float(np.mean(left_db)),
        "spread_db": max(float(np.std(left_db)), LEAST_SPREAD_DB),
    }
    return output.model_copy(update=changes)


def smoothed(spread: FloatArray) -> FloatArray:
    """Return the largest of each value and its neighbours: few units leave dips by chance."""
    padded = np.concatenate([spread[:1], spread, spread[-1:]])
    return np.asarray(np.maximum(np.maximum(padded[:-2], padded[1:-1]), padded[2:]))
