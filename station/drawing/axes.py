"""Axes of charts: from values to points on paper, and where the ticks stand."""

from __future__ import annotations

import math
from dataclasses import dataclass

MOST_TICKS = 7
ROUND_STEPS = (1.0, 2.0, 5.0)


@dataclass(frozen=True, slots=True)
class Axis:
    """A span of positions drawn between two points on paper; the second may lie above the first."""

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


def round_step(at_least: float) -> float:
    """Return the next 1, 2 or 5 times a power of ten."""
    decade = 10.0 ** math.floor(math.log10(at_least))
    for step in (*ROUND_STEPS, 10.0):
        if step * decade >= at_least:
            return step * decade
    return 10.0 * decade


def round_positions(axis: Axis, most: int = MOST_TICKS) -> list[float]:
    """Return the round positions on an axis, `most` steps or fewer apart."""
    step = round_step((axis.last - axis.first) / most)
    first, last = math.ceil(axis.first / step), math.floor(axis.last / step)
    return [step * count for count in range(first, last + 1)]


def decade_positions(axis: Axis) -> list[tuple[float, float]]:
    """Return log10 and value of 1, 2 and 5 times the powers of ten on a logarithmic axis."""
    values = [
        step * 10.0**decade
        for decade in range(math.floor(axis.first), math.ceil(axis.last) + 1)
        for step in ROUND_STEPS
    ]
    return [(math.log10(value), value) for value in values if axis.holds(math.log10(value))]
