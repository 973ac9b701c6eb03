"""All faults of one unit of severity side by side: how severe each must be to be found."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from station.drawing.axes import Axis
from station.drawing.strokes import GREY, PALE, box, mark, picture, stroke, words
from station.study.axes import axis_for, ticks
from station.study.detectioncurve import Threshold
from station.study.findings import FaultFinding

WIDTH, LEFT, RIGHT = 900.0, 215.0, 885.0
ROW, TOP, FOOT = 30.0, 26.0, 26.0
MARKS = {0.5: ("circle", False), 0.9: ("diamond", False), 0.99: ("square", True)}
SPREAD = {0.5: -7.0, 0.9: 0.0, 0.99: 7.0}  # above one another, or intervals would overlap
LEGEND_STEP = 128.0


def range_chart(findings: Sequence[FaultFinding]) -> str:
    """Return one row per fault with the severities found with each probability."""
    ladders = [finding.ladder for finding in findings]
    axis = axis_for(ladders, LEFT, RIGHT)
    bottom = TOP + ROW * len(findings)
    parts = [*legend()]
    for position, label in ticks(axis, ladders[0]):
        across = axis.at(position)
        parts += [
            stroke(across, TOP, across, bottom, PALE),
            words(across, bottom + 16.0, label, "middle", colour=GREY),
        ]
    for number, finding in enumerate(findings):
        parts += row(axis, finding, TOP + ROW * (number + 0.5))
    return picture(WIDTH, bottom + FOOT, "Severity needed to be found", parts)


def row(axis: Axis, finding: FaultFinding, height: float) -> Iterator[str]:
    """Yield one fault: what was planted as a pale bar, and its thresholds."""
    assert finding.curve is not None
    ladder = finding.ladder
    begin, end = (
        axis.at(ladder.position(s)) for s in (ladder.severities[0], ladder.severities[-1])
    )
    yield box(begin, height - 11.0, end - begin, 22.0, "#f0f0f0")
    yield words(LEFT - 10.0, height + 4.0, ladder.name, "end", 12.0)
    for threshold in finding.curve.thresholds:
        level = height + SPREAD[threshold.probability]
        yield from interval(axis, threshold, level, begin, end)


def interval(
    axis: Axis, threshold: Threshold, height: float, begin: float, end: float
) -> Iterator[str]:
    """Yield a threshold with its interval; an arrow where it lies off the ladder."""
    shape, filled = MARKS[threshold.probability]
    low, high = (
        min(max(axis.at(clipped(position)), begin), end)
        for position in (threshold.lower, threshold.upper)
    )
    yield stroke(low, height, high, height, GREY, 1.4)
    if math.isinf(threshold.position):
        side, at = ("right", end) if threshold.position > 0.0 else ("left", begin)
        yield mark(at, height, side, filled=filled)
    else:
        yield mark(axis.at(threshold.position), height, shape, filled=filled)


def clipped(position: float) -> float:
    """Return a position that can be drawn."""
    return min(max(position, -1e9), 1e9)


def legend() -> Iterator[str]:
    """Yield which mark is which probability."""
    for number, (probability, (shape, filled)) in enumerate(MARKS.items()):
        across = LEFT + 6.0 + LEGEND_STEP * number
        yield mark(across, 10.0, shape, filled=filled)
        yield words(across + 10.0, 14.0, f"found with {100.0 * probability:.0f} %", size=12.0)
    across = LEFT + 6.0 + LEGEND_STEP * len(MARKS)
    yield mark(across, 10.0, "right", filled=False)
    yield words(across + 10.0, 14.0, "not reached;  line: 95 % interval;  pale: planted")
