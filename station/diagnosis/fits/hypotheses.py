"""What can be wrong with a unit: each hypothesis frees what it accuses from its tolerance."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from station.analysis.arrays import FloatArray
from station.diagnosis.circuit.branches import DriverBranch, SeriesBranch
from station.diagnosis.circuit.building import box_name
from station.diagnosis.circuit.network import Mode, Network, Variable


class Kind(StrEnum):
    """What a hypothesis says of its part."""

    NOTHING = "nothing"  # every part is inside its tolerance
    OFF = "off"  # one variable is off
    SWAPPED = "swapped"  # two parts stand in each other's place
    ANOTHER = "another"  # a driver of another type is fitted
    TORN = "torn"  # a driver's surround: softer, and the box leaks through it


# How far a variable may be off when it is accused, one standard deviation. The logarithm of a
# ratio: six reach from a bridge to a broken joint.
FREE = 6.0
FREE_SHARE = 0.3  # of shorted turns
FREE_GAIN = 1.0  # of the station's sense
FREE_LEVEL = 2.3  # 20 dB
FREE_MECHANICS = 1.5  # a motor or a suspension does not break by powers of ten
FREE_JOINT = 1.5  # of parts that were exchanged
FREE_DRIVER = 0.4  # each parameter of another driver
DRIVER_MODES = (Mode.RE, Mode.FORCE, Mode.MASS, Mode.STIFFNESS, Mode.FRICTION, Mode.COIL)
FREE_OF = {
    Mode.SHORTED: FREE_SHARE,
    Mode.SENSE: FREE_GAIN,
    Mode.GAIN: FREE_LEVEL,
    **dict.fromkeys(
        (Mode.FORCE, Mode.MASS, Mode.STIFFNESS, Mode.FRICTION, Mode.COIL), FREE_MECHANICS
    ),
}
# Several variables explain more by chance: each beyond the first costs what it gains then, with
# room (the Bayesian information criterion has ln 200, about 5).
COST_PER_VARIABLE = 5.0
COST_OF_A_TEAR = 3.5  # softness and leak follow from one tear
# Starting values of what is accused, as logarithms of ratios, or shares.
STARTS = (-9.0, -4.0, -1.5, -0.6, -0.25, 0.25, 0.6, 1.5, 4.0, 9.0)
SHARE_STARTS = (0.03, 0.1, 0.3)
STARTS_OF = {
    Mode.SHORTED: SHARE_STARTS,
    Mode.TURNS: tuple(start for start in STARTS if start < 0.0),
    Mode.BRIDGE: (-1.0, -2.5),
    Mode.GAIN: (),  # not seen in the impedance; tried from a good unit
}


@dataclass(frozen=True, slots=True, eq=False)
class Hypothesis:
    """One explanation.

    Parameters
    ----------
    parts : tuple of str
        Whom it accuses; empty for none.
    sigma, mean : ndarray, shape (n_variables,)
        What it expects of every variable.
    accused : tuple of int
        The variables it frees.
    cost : float
        Added to its chi-square.
    starts : tuple of ndarray
        Variables from which it is tried.
    """

    kind: Kind
    mode: Mode | None
    parts: tuple[str, ...]
    sigma: FloatArray
    mean: FloatArray
    accused: tuple[int, ...]
    cost: float
    starts: tuple[FloatArray, ...]


def hypotheses_of(network: Network) -> tuple[Hypothesis, ...]:
    """Return every explanation, that nothing is wrong first."""
    none = np.zeros(len(network.variables))
    nothing = Hypothesis(Kind.NOTHING, None, (), network.sigma, none, (), 0.0, (none,))
    return (
        nothing,
        *(off(network, at, v) for at, v in enumerate(network.variables) if v.candidate),
        *swapped_pairs(network),
        *driver_hypotheses(network),
    )


def off(network: Network, at: int, variable: Variable) -> Hypothesis:
    """Return that one variable is off."""
    sigma = network.sigma
    free = FREE_OF.get(variable.mode, FREE)
    sigma[at] = free
    values = STARTS_OF.get(variable.mode, STARTS)
    starts = tuple(single(network, at, value) for value in values if abs(value) <= 2.0 * free)
    none = np.zeros(sigma.size)
    return Hypothesis(
        Kind.OFF,
        variable.mode,
        (variable.part,),
        sigma,
        none,
        (at,),
        0.0,
        starts,
    )


def single(network: Network, at: int, value: float) -> FloatArray:
    """Return variables of which one is not zero."""
    variables = np.zeros(len(network.variables))
    variables[at] = value
    return variables


def swapped_pairs(network: Network) -> Iterator[Hypothesis]:
    """Yield that two capacitors, two coils or two resistors stand in each other's place."""
    names = [part for part in network.what if has(network, part, Mode.VALUE)]
    for number, first in enumerate(names):
        for second in names[number + 1 :]:
            modes = modes_in_common(network, first, second)
            if modes is not None:
                yield swapped(network, first, second, modes)


def has(network: Network, part: str, mode: Mode) -> bool:
    """Return whether a part has a variable of a mode."""
    return any(v.part == part and v.mode is mode for v in network.variables)


def modes_in_common(network: Network, first: str, second: str) -> tuple[Mode, ...] | None:
    """Return what two parts of the same kind exchange; None if nobody could mix them up."""
    one, other = branch_of(network, first), branch_of(network, second)
    if not (isinstance(one, SeriesBranch) and isinstance(other, SeriesBranch)):
        return None
    if one.weight != other.weight or len(one.resistances) > 1 or len(other.resistances) > 1:
        return None
    same = all(
        (getattr(one, what) is None) == (getattr(other, what) is None)
        for what in ("inductance", "capacitance")
    )
    if not same or bool(one.resistances) != bool(other.resistances):
        return None
    return tuple(mode for mode in (Mode.VALUE, Mode.JOINT) if has(network, first, mode))


def branch_of(network: Network, part: str) -> object:
    """Return a part's branch, None for what is none."""
    names = list(network.what)
    at = names.index(part)
    return network.branches[at] if at < len(network.branches) else None


def swapped(network: Network, first: str, second: str, modes: tuple[Mode, ...]) -> Hypothesis:
    """Return that two parts stand in each other's place."""
    mean, sigma = np.zeros(len(network.variables)), network.sigma
    for mode in modes:
        one, other = network.place(first, mode), network.place(second, mode)
        ratio = ln_ratio(network, other, one)
        mean[one], mean[other] = ratio, -ratio
        sigma[one], sigma[other] = sigma[other], sigma[one]
        if mode is Mode.JOINT:  # two makes of part may differ in it more than in their value
            sigma[[one, other]] = FREE_JOINT
    accused = tuple(network.place(part, mode) for part in (first, second) for mode in modes)
    return Hypothesis(
        Kind.SWAPPED, None, (first, second), sigma, mean, accused, COST_PER_VARIABLE, (mean,)
    )


def ln_ratio(network: Network, over: int, under: int) -> float:
    """Return the logarithm of the ratio of two variables' nominal values."""
    first, second = (int(np.flatnonzero(network.weights[:, at])[0]) for at in (over, under))
    return float(np.log(network.nominal[first] / network.nominal[second]))


def driver_hypotheses(network: Network) -> Iterator[Hypothesis]:
    """Yield that a driver is another one, or that its surround is torn."""
    for branch, part in zip(network.branches, network.what, strict=False):
        if not isinstance(branch, DriverBranch):
            continue
        accused = tuple(network.place(part, mode) for mode in DRIVER_MODES)
        yield several(network, Kind.ANOTHER, part, accused, FREE_DRIVER)
        if branch.at_columns.box is not None:
            torn = (
                network.place(part, Mode.STIFFNESS),
                network.place(box_name(part), Mode.WAY_OUT),
            )
            yield several(network, Kind.TORN, part, torn, FREE)


def several(
    network: Network, kind: Kind, part: str, accused: tuple[int, ...], free: float
) -> Hypothesis:
    """Return that several variables of one part are off together."""
    sigma = network.sigma
    sigma[list(accused)] = free
    start = np.zeros(sigma.size)
    starts = [start]
    if kind is Kind.TORN:
        start = start.copy()
        start[list(accused)] = (-0.1, -2.0)
        starts.append(start)
    cost = COST_OF_A_TEAR if kind is Kind.TORN else COST_PER_VARIABLE * (len(accused) - 1)
    return Hypothesis(
        kind, None, (part,), sigma, np.zeros(sigma.size), accused, cost, tuple(starts)
    )
