"""Run rules: what in a chart is too regular to be chance, and since when.

Zones are counted in sigma about the centre. False alarms add up: a single point beyond three sigma
comes by chance in 370 points on average, the four rules together in 92 (Champ and Woodall 1987).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class Rule:
    """So many of so many neighbouring points beyond so many sigma, on one side."""

    name: str
    need: int
    of: int
    beyond: float


BEYOND = Rule("beyond", 1, 1, 3.0)
FAR = Rule("far", 2, 3, 2.0)
OFF = Rule("off", 4, 5, 1.0)
SIDE = Rule("side", 8, 8, 0.0)
# Western Electric, Statistical Quality Control Handbook, 1956; the first and the last alone
# come by chance in 153 points (Champ and Woodall, Technometrics 29(4), 1987, pp. 393-399).
RULES = (BEYOND, FAR, OFF, SIDE)
FEW_FALSE = (BEYOND, SIDE)


@dataclass(frozen=True, slots=True)
class Signal:
    """A rule that is broken: by which point last, since which, and on which side."""

    rule: Rule
    first: int
    last: int
    above: bool


def signals(beyond: FloatArray, rules: Sequence[Rule]) -> tuple[Signal, ...]:
    """Return every point at which a rule is broken, in the order of the points.

    Parameters
    ----------
    beyond : ndarray, shape (n,)
        How many sigma each point lies above (+) or below (-) its centre.
    """
    found = [
        signal
        for rule in rules
        for above in (True, False)
        for signal in broken(beyond if above else -beyond, rule, above=above)
    ]
    return tuple(sorted(found, key=lambda signal: (signal.last, rules.index(signal.rule))))


def broken(beyond: FloatArray, rule: Rule, *, above: bool) -> Iterator[Signal]:
    """Yield where a rule is broken upwards: the newest point itself lies beyond, too."""
    outside = beyond > rule.beyond
    counts = np.convolve(outside, np.ones(rule.of), "full")[: outside.size]
    for last in np.flatnonzero(outside & (counts >= rule.need)):
        window = np.flatnonzero(outside[: last + 1])[-rule.need :]
        yield Signal(rule, int(window[0]), int(last), above)


def first_signal(beyond: FloatArray, rules: Sequence[Rule]) -> Signal | None:
    """Return the first point at which any rule is broken, None if there is none."""
    return next(iter(signals(beyond, rules)), None)
