"""A frame with two axes, and curves, bands and levels in it: values in, SVG out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from station.drawing.axes import Axis, decade_positions, round_positions
from station.drawing.strokes import GREY, PALE, curve, stroke, surface, words

LEFT, RIGHT, TOP, BOTTOM = 52.0, 12.0, 14.0, 40.0  # room around the frame
NEAREST_PX = 34.0  # between two words under the frame
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Plot:
    """Where values lie on paper; a logarithmic plot holds log10 of what is across."""

    width: float
    height: float
    across: Axis
    up: Axis
    logarithmic: bool = False

    def x(self, value: float) -> float:
        """Return how far across a value lies."""
        return self.across.at(math.log10(value) if self.logarithmic else value)

    def y(self, value: float) -> float:
        """Return the height on paper of a value."""
        return self.up.at(value)

    def line(
        self, across: Iterable[float], up: Iterable[float], *, dash: str = "", width: float = 1.6
    ) -> Iterator[str]:
        """Yield a curve; values that are not finite part it."""
        for run in unbroken_runs(zip(across, up, strict=True)):
            yield curve([(self.x(x), self.y(y)) for x, y in run], dash, width)

    def band(
        self, across: Sequence[float], lower: Sequence[float], upper: Sequence[float]
    ) -> Iterator[str]:
        """Yield the surface between two limits; an open side ends at the frame."""
        floor, roof = self.up.first, self.up.last
        low = [max(value, floor) for value in lower]
        high = [min(value, roof) for value in upper]
        there = [(self.x(x), self.y(y)) for x, y in zip(across, high, strict=True)]
        back = [(self.x(x), self.y(y)) for x, y in zip(across, low, strict=True)]
        yield surface([*there, *reversed(back)])

    def level(self, value: float, *, dash: str = "", label: str = "", colour: str = GREY) -> str:
        """Return a line all across, and what it stands for at its right end."""
        height = self.y(value)
        line = stroke(self.across.left, height, self.across.right, height, colour, 1.2, dash)
        return line + (words(self.across.right - 3.0, height - 3.0, label, "end", 10.0))

    def frame(self, below: str, beside: str, *, labels: Sequence[tuple[float, str]] = ()) -> str:
        """Return grid and ticks with their words; `labels` replace the numbers across."""
        parts = [*self._rows(), *self._columns(labels)]
        left, right = self.across.left, self.across.right
        parts += [
            stroke(left, self.up.left, right, self.up.left),
            words(0.5 * (left + right), self.height - 4.0, below, "middle"),
            words(left, TOP - 4.0, beside),
        ]
        return "".join(parts)

    def _rows(self) -> Iterator[str]:
        for value in round_positions(self.up):
            height = self.y(value)
            yield stroke(self.across.left, height, self.across.right, height, PALE)
            yield words(self.across.left - 6.0, height + 4.0, f"{value + 0.0:.6g}", "end")

    def _columns(self, labels: Sequence[tuple[float, str]]) -> Iterator[str]:
        if labels:
            named = [(value, name) for value, name in labels if self.across.holds(value)]
        elif self.logarithmic:
            named = [(log, short_words(value)) for log, value in decade_positions(self.across)]
        else:
            named = [(value, f"{value + 0.0:.6g}") for value in round_positions(self.across)]
        free_from = -math.inf
        for position, name in named:
            at = self.across.at(position)
            yield stroke(
                at,
                self.up.left,
                at,
                self.up.right if self.logarithmic else self.up.left + 4.0,
                PALE,
            )
            if at >= free_from:
                yield words(at, self.up.left + 15.0, name, "middle")
                free_from = at + max(NEAREST_PX, 6.5 * len(name))


def plot(
    width: float,
    height: float,
    across: tuple[float, float],
    up: tuple[float, float],
    *,
    logarithmic: bool = False,
) -> Plot:
    """Return a plot for two spans of values; across is in the value's own unit, never its log."""
    first, last = (math.log10(value) for value in across) if logarithmic else across
    return Plot(
        width,
        height,
        Axis(first, last, LEFT, width - RIGHT),
        Axis(*up, height - BOTTOM, TOP),
        logarithmic,
    )


def roomy(
    values: Iterable[float], *, share: float = 0.08, least: float = 1e-9
) -> tuple[float, float]:
    """Return a span that holds all finite values with room at both ends."""
    finite = [value for value in values if math.isfinite(value)]
    low, high = (min(finite), max(finite)) if finite else (0.0, 1.0)
    room = max(share * (high - low), least, 1e-6 * max(abs(low), abs(high)))
    return low - room, high + room


def unbroken_runs(points: Iterable[Point]) -> Iterator[list[Point]]:
    """Yield runs of neighbouring points that are finite."""
    run: list[Point] = []
    for point in points:
        if math.isfinite(point[0]) and math.isfinite(point[1]):
            run.append(point)
        elif run:
            yield run
            run = []
    if run:
        yield run


def short_words(value: float) -> str:
    """Return a frequency's number as it stands under an axis: 200, 1k, 20k."""
    return f"{value / 1000.0:g}k" if value >= 1000.0 else f"{value:g}"
