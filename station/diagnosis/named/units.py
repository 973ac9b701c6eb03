"""The unit of what a hypothesis says is off."""

from __future__ import annotations

from station.diagnosis.circuit.branches import SeriesBranch
from station.diagnosis.circuit.network import Mode, Network
from station.diagnosis.fits.hypotheses import Hypothesis, branch_of

OF_MODE = {
    Mode.JOINT: "Ω",
    Mode.RE: "Ω",
    Mode.WINDING: "Ω",
    Mode.LEADS: "Ω",
    Mode.FORCE: "T·m",
    Mode.MASS: "kg",
    Mode.STIFFNESS: "N/m",
    Mode.FRICTION: "kg/s",
    Mode.TURNS: "H",
    Mode.GAIN: "dB",
}


def unit_of(network: Network, hypothesis: Hypothesis) -> str:
    """Return the unit of the accused variable's first value."""
    if hypothesis.mode is None or hypothesis.mode is not Mode.VALUE:
        return OF_MODE.get(hypothesis.mode, "ratio") if hypothesis.mode else "ratio"
    branch = branch_of(network, hypothesis.parts[0])
    if not isinstance(branch, SeriesBranch):
        return "ratio"
    if branch.capacitance is not None:
        return "F"
    return "H" if branch.inductance is not None else "Ω"
