"""From fitted hypotheses and from what was heard to explanations, one currency for both.

The currency is chi-square: -2 ln of how likely the observations are, priors included.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from station.diagnosis.circuit.building import box_name
from station.diagnosis.circuit.network import Mode, Network
from station.diagnosis.fits.fitting import Fit
from station.diagnosis.fits.hypotheses import Kind
from station.diagnosis.fits.plausibility import State, state_of
from station.diagnosis.named.sounds import Heard
from station.diagnosis.named.suspect import Found

LOOSE_PART, TERMINALS = "loose part", "terminals"
HEARD_WORDS = {
    LOOSE_PART: "something loose in or at the box",
    TERMINALS: "the leads at the terminals",
}
NO_SECTION: frozenset[str] = frozenset()
OF_MODE: Mapping[Mode, Found] = {
    Mode.VALUE: Found.VALUE,
    Mode.JOINT: Found.RESISTANCE,
    Mode.RE: Found.RESISTANCE,
    Mode.WINDING: Found.RESISTANCE,
    Mode.TURNS: Found.SHORTED_TURNS,
    Mode.SHORTED: Found.SHORTED_TURNS,
    Mode.FORCE: Found.MOTOR,
    Mode.MASS: Found.MASS,
    Mode.STIFFNESS: Found.SUSPENSION,
    Mode.FRICTION: Found.LOSSES,
    Mode.COIL: Found.COIL,
    Mode.WAY_OUT: Found.LEAK,
    Mode.VENT: Found.LEAK,
    Mode.LEADS: Found.CONTACT,
    Mode.SENSE: Found.SENSE,
    Mode.GAIN: Found.LEVEL,
}
OF_KIND = {Kind.ANOTHER: Found.ANOTHER, Kind.SWAPPED: Found.SWAPPED, Kind.TORN: Found.TORN}


@dataclass(frozen=True, slots=True, eq=False)
class Explanation:
    """What may be wrong; `squared` is its chi-square, `fit` what it was read from."""

    part: str
    found: Found
    squared: float
    left_squared: float
    fit: Fit | None = None
    beside: str = ""

    @property
    def key(self) -> str:
        """What the explanation accuses: one physical part, or a pair that was exchanged."""
        return f"{self.part} and {self.beside}" if self.beside else self.part


def explanations(
    network: Network, panels: frozenset[str], fits: Sequence[Fit], heard: Heard
) -> list[Explanation]:
    """Return the best explanation of each physical part, the likeliest first."""
    nothing = next(fit for fit in fits if fit.hypothesis.kind is Kind.NOTHING)
    every = [
        *measured_ones(network, panels, fits, heard),
        *heard_ones(network, panels, nothing, heard),
    ]
    best: dict[str, Explanation] = {}
    for one in sorted(every, key=lambda explanation: explanation.squared):
        best.setdefault(one.key, one)
    return list(best.values())


def measured_ones(
    network: Network, panels: frozenset[str], fits: Sequence[Fit], heard: Heard
) -> Iterator[Explanation]:
    """Yield what the fits say."""
    for fit in fits:
        hypothesis = fit.hypothesis
        if hypothesis.kind is Kind.NOTHING:
            continue
        part, *others = hypothesis.parts
        found = found_of(network, panels, fit)
        squared = fit.chi_square + heard.away(found, NO_SECTION)
        beside = others[0] if others else ""
        yield Explanation(part, found, squared, fit.left_square, fit, beside)


def found_of(network: Network, panels: frozenset[str], fit: Fit) -> Found:
    """Return in which way a fit says that its part is at fault."""
    hypothesis = fit.hypothesis
    if hypothesis.mode is None:
        return OF_KIND[hypothesis.kind]
    part, mode = hypothesis.parts[0], hypothesis.mode
    if mode is Mode.GAIN and part in panels:
        return Found.BIAS
    state = state_of(network, hypothesis, fit.variables)
    if state is State.OFF:
        return OF_MODE[mode]
    return Found.OPEN if state is State.OPEN else Found.BRIDGED


def heard_ones(
    network: Network, panels: frozenset[str], nothing: Fit, heard: Heard
) -> Iterator[Explanation]:
    """Yield what only the microphone can say, while the impedance is as it should be."""

    def one(part: str, found: Found, sections: frozenset[str] = NO_SECTION) -> Explanation:
        squared = nothing.chi_square + heard.away(found, sections)
        return Explanation(part, found, squared, nothing.left_square)

    for output in network.outputs:
        yield one(output.part, Found.REVERSED, frozenset({output.section}))
    if len(heard.sections) > 1:
        yield one(TERMINALS, Found.REVERSED, heard.sections)
    cones = [output.part for output in network.outputs if output.part not in panels]
    if cones:  # the lowest section moves furthest, and stands first
        yield one(cones[0], Found.COIL_RUB)
        if box_name(cones[0]) in network.what:
            yield one(box_name(cones[0]), Found.LEAK)
    yield one(LOOSE_PART, Found.LOOSE)
    for panel in sorted(panels):
        yield one(panel, Found.ARCING)
