"""Axes of severity: from a ladder's positions to points on paper, and where the ticks stand."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from station.study.ladders import SeverityLadder

MOST_TICKS = 7
ROUND_STEPS = (1.0, 2.0, 5.0)
MARGIN_RATIO = 0.04


@dataclass(frozen=True, slots=True)
class Axis:
    """A span of positions drawn between two points on paper."""

    first: float
    last: float
    left: float
    right: float

    def at(self, position: float) -> float:
        """Return the point of a position; what lies outside is drawn at the end."""
        share = (position - self.first) / (self.last - self.first)
        return self.left + min(max(share, 0.0), 1.0) * (self.right - self.left)

    def holds(self, position: float) -> bool:
        """Return whether a position lies on the axis."""
        return self.first <= position <= self.last


def axis_for(ladders: Iterable[SeverityLadder], left: float, right: float) -> Axis:
    """Return an axis on which every rung of some ladders finds its place."""
    positions = [ladder.position(s) for ladder in ladders for s in ladder.severities]
    margin = MARGIN_RATIO * (max(positions) - min(positions))
    return Axis(min(positions) - margin, max(positions) + margin, left, right)


def ticks(axis: Axis, ladder: SeverityLadder) -> list[tuple[float, str]]:
    """Return positions and words of round severities; two sides share them, so without a sign."""
    if ladder.logarithmic:
        shares = [
            step * 10.0**decade
            for decade in range(math.floor(axis.first), math.ceil(axis.last) + 1)
            for step in ROUND_STEPS
        ]
        found = [(math.log10(share), f"{100.0 * share:.3g} %") for share in shares]
    else:
        step = round_step((axis.last - axis.first) / MOST_TICKS)
        first, last = math.ceil(axis.first / step), math.floor(axis.last / step)
        positions = [step * count for count in range(first, last + 1)]
        found = [(position, f"{ladder.severity(position):g}") for position in positions]
    return [(position, word) for position, word in found if axis.holds(position)]


def caption(ladder: SeverityLadder) -> str:
    """Return what stands under an axis of one fault; shares have their unit at the ticks."""
    unit = "" if ladder.logarithmic else f", {ladder.fault.unit}"
    return f"{ladder.fault.meaning}{unit}"


def round_step(at_least: float) -> float:
    """Return the next 1, 2 or 5 times a power of ten."""
    decade = 10.0 ** math.floor(math.log10(at_least))
    for step in (*ROUND_STEPS, 10.0):
        if step * decade >= at_least:
            return step * decade
    return 10.0 * decade
