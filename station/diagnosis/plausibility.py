"""Which of two explanations that measure the same is the likelier one.

What breaks how often is common practice, no source: the wire of a voice coil breaks more often
than a resistor, a resistor's value is wrong more often than a voice coil's resistance, and a
solder bridge lies across a coil's or a capacitor's pads rather than across a resistor's.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from station.analysis.arrays import FloatArray
from station.diagnosis.hypotheses import Hypothesis, Kind
from station.diagnosis.network import Mode


class State(StrEnum):
    """How far a part is off."""

    OFF = "off"
    OPEN = "open"
    BRIDGED = "bridged"


FAR = 3.0  # logarithm of a ratio, a factor of 20: no value anybody makes is so wrong
# Resistance grows to an open and shrinks to a bridge; so does inductance; capacitance the other
# way round, which the words see to.
COSTS: Mapping[tuple[Mode, State], float] = {
    (Mode.VALUE, State.OFF): 0.0,
    (Mode.VALUE, State.OPEN): 3.0,
    (Mode.VALUE, State.BRIDGED): 6.0,
    (Mode.JOINT, State.OFF): 2.0,
    (Mode.JOINT, State.OPEN): 2.5,
    (Mode.JOINT, State.BRIDGED): 3.0,
    (Mode.RE, State.OFF): 2.0,
    (Mode.RE, State.OPEN): 2.0,
    (Mode.RE, State.BRIDGED): 3.0,
    (Mode.TURNS, State.OFF): 1.0,
    (Mode.TURNS, State.BRIDGED): 2.0,
    (Mode.WINDING, State.OFF): 2.0,
    (Mode.WINDING, State.OPEN): 2.5,
    (Mode.LEADS, State.OFF): 2.0,
    (Mode.LEADS, State.OPEN): 2.0,
}


def state_of(hypothesis: Hypothesis, variables: FloatArray) -> State:
    """Return how far the accused variable is off."""
    if hypothesis.kind is not Kind.OFF or hypothesis.mode in (Mode.SHORTED, Mode.GAIN):
        return State.OFF
    ratio = float(variables[hypothesis.accused[0]])
    if abs(ratio) < FAR:
        return State.OFF
    return State.OPEN if ratio > 0.0 else State.BRIDGED


def cost_of(hypothesis: Hypothesis, variables: FloatArray) -> float:
    """Return what is added to a fitted hypothesis' chi-square.

    For a part that is off by its value alone, what its distance costs is replaced: an open part is
    as likely in a joint of milliohms as in one of ohms.
    """
    if hypothesis.kind is not Kind.OFF or hypothesis.mode is None:
        return hypothesis.cost
    accused = hypothesis.accused[0]
    away = float(variables[accused] / hypothesis.sigma[accused])
    return COSTS.get((hypothesis.mode, state_of(hypothesis, variables)), 1.0) - away**2
