"""Severity ladders: from harmless to gross, in steps that suit the unit of a fault's severity."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from station.simulation.faults import STATION_PREFIX, Fault

SHARE_STEP = 1.6  # from one share to the next
SHARES_BELOW, SHARES_ABOVE = 6, 3  # steps around the usual severity
LEVEL_STEP_DB = 3.0
LEVELS_BELOW, LEVELS_ABOVE = 7, 3
LINEAR_STEPS, LINEAR_USUAL = 9, 6  # the usual severity is the sixth of nine
SAMPLES_BELOW, SAMPLES_ABOVE = 3, 4  # doublings
STATION_EVERY = 3  # of a station's fault, every third rung tells enough
DIGITS = 3  # of a share
CLEAN_DIGITS = 9  # enough for anybody; keeps sums from ending in 0000000001


@dataclass(frozen=True, slots=True)
class SeverityLadder:
    """The severities at which one fault is planted.

    `harmless` is the severity that would change nothing; `logarithmic` says that rungs are evenly
    spaced in the logarithm of the distance from it. One rung means there is nothing to climb.
    """

    name: str
    fault: Fault
    severities: tuple[float, ...]
    harmless: float = 0.0
    logarithmic: bool = False

    @property
    def of_station(self) -> bool:
        """Whether the fault is the station's and not the unit's."""
        return self.fault.name.startswith(STATION_PREFIX)

    @property
    def graded(self) -> bool:
        """Whether there is a severity to find the threshold of."""
        return len(self.severities) > 1

    def position(self, severity: float) -> float:
        """Return where a severity stands on the evenly spaced scale."""
        distance = abs(severity - self.harmless)
        return math.log10(distance) if self.logarithmic else self.direction * severity

    def severity(self, position: float) -> float:
        """Return the severity at a position; infinite positions stay so."""
        if not self.logarithmic:
            return self.direction * position
        if math.isinf(position):
            return position
        return self.harmless + self.direction * math.pow(10.0, position)

    @property
    def direction(self) -> float:
        """Minus one where a fault gets worse as its severity gets smaller."""
        return math.copysign(1.0, self.severities[-1] - self.severities[0])


def ladders_of(fault: Fault) -> tuple[SeverityLadder, ...]:
    """Return a fault's ladders: one to each side of harmless, one for each kind there is."""
    ladders = tuple(all_ladders(fault))
    if not fault.name.startswith(STATION_PREFIX):
        return ladders
    return tuple(thinned(ladder) for ladder in ladders)


def single_rung(fault: Fault, severity: float) -> SeverityLadder:
    """Return a fault at one severity, and nothing to climb."""
    harmless = 1.0 if fault.unit == "ratio" and fault.lowest > 0.0 else 0.0
    return SeverityLadder(f"{fault.name}={severity:g}", fault, (severity,), harmless)


def all_ladders(fault: Fault) -> Iterator[SeverityLadder]:
    """Yield a fault's ladders with all rungs."""
    if fault.unit == "":
        yield SeverityLadder(fault.name, fault, (fault.default,))
    elif fault.unit == "number":
        for number in range(round(fault.lowest), round(fault.highest) + 1):
            yield SeverityLadder(f"{fault.name} {number}", fault, (float(number),))
    elif fault.unit == "ratio":
        yield from share_ladders(fault)
    else:
        rungs = SPACINGS.get(fault.unit, linear)(fault.default)
        yield SeverityLadder(fault.name, fault, allowed(fault, rungs))


def share_ladders(fault: Fault) -> Iterator[SeverityLadder]:
    """Yield ladders of a share: a factor, which cannot be zero, is off from one."""
    harmless = 1.0 if fault.lowest > 0.0 else 0.0
    usual = abs(fault.default - harmless)
    steps = range(-SHARES_BELOW, SHARES_ABOVE + 1)
    shares = [rounded(usual * SHARE_STEP**step, DIGITS) for step in steps]
    sides = {"more": 1.0, "less": -1.0} if fault.lowest < harmless else {"": 1.0}
    for side, sign in sides.items():
        rungs = allowed(fault, [harmless + sign * share for share in shares])
        yield SeverityLadder(f"{fault.name} {side}".strip(), fault, rungs, harmless, True)


def levels(usual_db_spl: float) -> list[float]:
    """Return levels around the usual one."""
    return [usual_db_spl + LEVEL_STEP_DB * k for k in range(-LEVELS_BELOW, LEVELS_ABOVE + 1)]


def doublings(usual: float) -> list[float]:
    """Return whole numbers around the usual one."""
    return [float(round(usual * 2.0**k)) for k in range(-SAMPLES_BELOW, SAMPLES_ABOVE + 1)]


def linear(usual: float) -> list[float]:
    """Return equal steps from next to nothing to half as much again as usual."""
    return [usual * step / LINEAR_USUAL for step in range(1, LINEAR_STEPS + 1)]


SPACINGS: dict[str, Callable[[float], list[float]]] = {"dB SPL": levels, "samples": doublings}


def allowed(fault: Fault, severities: list[float]) -> tuple[float, ...]:
    """Return those severities that the fault can have, each once."""
    unique = dict.fromkeys(rounded(severity, CLEAN_DIGITS) for severity in severities)
    return tuple(severity for severity in unique if fault.allows(severity))


def rounded(value: float, digits: int) -> float:
    """Return a value to so many digits."""
    return float(f"{value:.{digits}g}")


def thinned(ladder: SeverityLadder) -> SeverityLadder:
    """Return a ladder with every third rung, the usual severity among them."""
    severities = ladder.severities
    usual = min(severities, key=lambda severity: abs(severity - ladder.fault.default))
    kept = severities[severities.index(usual) % STATION_EVERY :: STATION_EVERY]
    return SeverityLadder(ladder.name, ladder.fault, kept, ladder.harmless, ladder.logarithmic)
