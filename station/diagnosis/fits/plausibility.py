"""Which of two explanations that measure the same is the likelier one.

What breaks how often is common practice, no source: the wire of a voice coil breaks more often
than a resistor burns through, and a resistor, which gets hot, sooner than a crossover's coil (as
the base failure rates of MIL-HDBK-217F have it, from memory); a resistor's value is wrong more
often than a voice coil's resistance, and a solder bridge lies across a coil's or a capacitor's
pads rather than across a resistor's.
"""

from __future__ import annotations

from enum import StrEnum

from station.analysis.arrays import FloatArray
from station.diagnosis.circuit.branches import DriverBranch, SeriesBranch
from station.diagnosis.circuit.network import Mode, Network
from station.diagnosis.fits.hypotheses import Hypothesis, Kind, branch_of


class State(StrEnum):
    """How far a part is off."""

    OFF = "off"
    OPEN = "open"
    BRIDGED = "bridged"


FAR = 3.0  # logarithm of a ratio, a factor of 20: no value anybody makes is so wrong
BREAKS = (Mode.VALUE, Mode.JOINT, Mode.RE, Mode.WINDING, Mode.TURNS)
OFF_COSTS = {Mode.VALUE: 0.0, Mode.TURNS: 1.0, Mode.GAIN: 1.0, Mode.SHORTED: 1.0}
OFF_COST = 1.0
UNLIKELY_OFF = (Mode.JOINT, Mode.RE, Mode.WINDING, Mode.LEADS)
UNLIKELY_OFF_COST = 2.0
OPEN_COST, OPEN_WIRE_COST, OPEN_COIL_COST = 2.5, 2.0, 3.0
BRIDGED_COST, BRIDGED_RESISTOR_COST = 2.0, 6.0


def state_of(network: Network, hypothesis: Hypothesis, variables: FloatArray) -> State:
    """Return whether the accused part is off, or broken altogether."""
    if hypothesis.mode is Mode.BRIDGE:
        return State.BRIDGED
    if hypothesis.kind is not Kind.OFF or hypothesis.mode not in BREAKS:
        return State.OFF
    ratio = float(variables[hypothesis.accused[0]])
    if abs(ratio) < FAR:
        return State.OFF
    branch = branch_of(network, hypothesis.parts[0])
    capacitor = isinstance(branch, SeriesBranch) and branch.capacitance is not None
    inverted = capacitor and hypothesis.mode is Mode.VALUE  # much capacitance is a bridge
    return State.OPEN if (ratio > 0.0) != inverted else State.BRIDGED


def cost_of(network: Network, hypothesis: Hypothesis, variables: FloatArray) -> float:
    """Return what is added to a fitted hypothesis' chi-square.

    For a part that is off by one variable, what its distance costs is replaced: an open part is as
    likely in a joint of milliohms as in one of ohms.
    """
    if hypothesis.kind is not Kind.OFF or hypothesis.mode is None:
        return hypothesis.cost
    accused = hypothesis.accused[0]
    away = float(variables[accused] / hypothesis.sigma[accused])
    return state_cost(network, hypothesis, variables) - away**2


def state_cost(network: Network, hypothesis: Hypothesis, variables: FloatArray) -> float:
    """Return what an explanation costs by what it says, -2 ln of how often it occurs."""
    state = state_of(network, hypothesis, variables)
    if state is State.OFF:
        if hypothesis.mode in UNLIKELY_OFF:
            return UNLIKELY_OFF_COST
        return OFF_COST if hypothesis.mode is None else OFF_COSTS.get(hypothesis.mode, OFF_COST)
    branch = branch_of(network, hypothesis.parts[0])
    return bridged_cost(branch) if state is State.BRIDGED else open_cost(branch)


def bridged_cost(branch: object) -> float:
    """Return what it costs that a part is bridged."""
    resistor = isinstance(branch, SeriesBranch) and not (
        branch.inductance is not None or branch.capacitance is not None
    )
    return BRIDGED_RESISTOR_COST if resistor else BRIDGED_COST


def open_cost(branch: object) -> float:
    """Return what it costs that a part is open; a panel has no wire but its lead."""
    if isinstance(branch, DriverBranch):
        return OPEN_WIRE_COST
    if not isinstance(branch, SeriesBranch):
        return OPEN_COST
    if not branch.resistances:
        return OPEN_WIRE_COST
    return OPEN_COIL_COST if branch.inductance is not None else OPEN_COST
