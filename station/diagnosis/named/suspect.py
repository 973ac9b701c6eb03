"""What a diagnosis says: suspects in order, each with what was found of it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

LEAST_PROBABILITY = 0.01


class Found(StrEnum):
    """In which way a suspect is at fault."""

    VALUE = "value"  # its value is off
    OPEN = "open"
    BRIDGED = "bridged"
    RESISTANCE = "resistance"  # there is resistance in series with it
    SHORTED_TURNS = "shorted turns"
    MOTOR = "motor"
    MASS = "mass"
    SUSPENSION = "suspension"
    LOSSES = "losses"
    COIL = "coil"
    ANOTHER = "another"  # another type is fitted
    SWAPPED = "swapped"  # with the suspect beside it
    TORN = "torn"
    LEAK = "leak"
    LEVEL = "level"  # its impedance is right and its sound is not
    BIAS = "bias"
    REVERSED = "reversed"
    COIL_RUB = "coil rub"
    LOOSE = "loose part"
    ARCING = "arcing"
    CONTACT = "contact"  # of the station's leads
    SENSE = "sense"  # of the station's current


class PartKind(StrEnum):
    """What sort of part a suspect is, which decides how it is checked."""

    COMPONENT = "component"
    DRIVER = "driver"
    TRANSFORMER = "transformer"
    PANEL = "panel"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value that a suspect seems to have, with its standard uncertainty and what it should be.

    In `unit`; the tolerance is a ratio, NaN where none is stated.
    """

    value: float
    uncertainty: float
    nominal: float
    tolerance: float
    unit: str


@dataclass(frozen=True, slots=True)
class Suspect:
    """One part that may be at fault.

    Attributes
    ----------
    part : str
        Its designator, as in the drawing.
    what : str
        What it is.
    kind : PartKind
        What sort of part.
    found : Found
        In which way.
    probability : float
        Of this part, if one part alone is at fault and it is one of those considered.
    estimate : Estimate or None
        What its value seems to be.
    beside : str
        The part it was exchanged with; empty otherwise.
    """

    part: str
    what: str
    kind: PartKind
    found: Found
    probability: float
    estimate: Estimate | None = None
    beside: str = ""


class Finding(StrEnum):
    """What a diagnosis comes to."""

    SUSPECTS = "suspects"
    NOTHING = "nothing"  # all parts seem inside their tolerances
    NOT_ONE_PART = "not one part"  # no single part explains what was measured
    NOT_POSSIBLE = "not possible"  # there is no netlist, or no impedance


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Who is suspected of a unit's fault.

    Attributes
    ----------
    finding : Finding
        What it comes to.
    suspects : tuple of Suspect
        The likeliest first. Where no single part explains all, those that explain most.
    group : int
        So many of them, from the first, hold 95 % of the probability together.
    blind : tuple of pairs
        Part and what of it hardly shows in what was measured.
    why_not : str
        Why there is none.
    """

    finding: Finding
    suspects: tuple[Suspect, ...] = ()
    group: int = 0
    blind: tuple[tuple[str, str], ...] = ()
    why_not: str = ""

    @property
    def named(self) -> tuple[Suspect, ...]:
        """The suspects worth naming: those that hold 95 % together, and any of 1 % or more."""
        return tuple(
            one
            for at, one in enumerate(self.suspects)
            if at < self.group or one.probability >= LEAST_PROBABILITY
        )

    @property
    def first(self) -> Suspect | None:
        """The likeliest suspect, if anything is suspected."""
        told = self.finding in (Finding.SUSPECTS, Finding.NOT_ONE_PART) and self.suspects
        return self.suspects[0] if told else None
