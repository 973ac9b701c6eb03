"""One fault's detection curve: what was counted, with intervals, and the fit through it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from station.drawing.axes import Axis
from station.drawing.strokes import GREY, LOOKS, PALE, Look, curve, mark, picture, stroke, words
from station.study.axes import axis_for, caption, ticks
from station.study.findings import FaultFinding
from station.study.outcome import End

WIDTH, HEIGHT = 440.0, 236.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 428.0, 16.0, 196.0
LEVELS = (0.0, 0.5, 0.9, 1.0)
POINTS = 160
BESIDE = 4.0  # two sides' marks stand this far apart, or one would hide the other


def curve_chart(findings: Sequence[FaultFinding]) -> str:
    """Return the curves of a fault: one, or one to each side of harmless."""
    ladders = [finding.ladder for finding in findings]
    axis = axis_for(ladders, LEFT, RIGHT)
    parts = [*frame(axis, findings)]
    for number, (finding, look) in enumerate(zip(findings, LOOKS, strict=False)):
        shift = BESIDE * (number - 0.5 * (len(findings) - 1))
        parts += [*fit(axis, finding, look), *counts(axis, finding, look, shift)]
    if len(findings) > 1:
        parts += legend(axis, findings)
    return picture(WIDTH, HEIGHT, f"Detection of {ladders[0].fault.name}", parts)


def height_of(ratio: float) -> float:
    """Return the height on paper of a share."""
    return BOTTOM - ratio * (BOTTOM - TOP)


def frame(axis: Axis, findings: Sequence[FaultFinding]) -> Iterator[str]:
    """Yield grid, ticks and their words."""
    for level in LEVELS:
        height = height_of(level)
        yield stroke(LEFT, height, RIGHT, height, PALE)
        yield words(LEFT - 6.0, height + 4.0, f"{100.0 * level:.0f} %", "end", colour=GREY)
    for position, label in ticks(axis, findings[0].ladder):
        across = axis.at(position)
        yield stroke(across, BOTTOM, across, BOTTOM + 4.0, GREY)
        yield words(across, BOTTOM + 17.0, label, "middle", colour=GREY)
    yield stroke(LEFT, BOTTOM, RIGHT, BOTTOM)
    yield words(0.5 * (LEFT + RIGHT), HEIGHT - 6.0, caption(findings[0].ladder), "middle")


def fit(axis: Axis, finding: FaultFinding, look: Look) -> Iterator[str]:
    """Yield the fitted curve."""
    assert finding.curve is not None
    positions = np.linspace(axis.first, axis.last, POINTS)
    shares = finding.curve.probability(positions)
    points = [
        (axis.at(float(position)), height_of(float(share)))
        for position, share in zip(positions, shares, strict=True)
    ]
    yield curve(points, look.dash)


def counts(axis: Axis, finding: FaultFinding, look: Look, shift: float) -> Iterator[str]:
    """Yield what was counted at every rung, with its interval."""
    for rung in finding.rungs:
        share = rung.tally.share(End.FAIL)
        across = axis.at(finding.ladder.position(rung.severity)) + shift
        yield stroke(
            across, height_of(share.lower_ratio), across, height_of(share.upper_ratio), GREY, 1.2
        )
        yield mark(across, height_of(share.ratio), look.mark, filled=look.filled)


def legend(axis: Axis, findings: Sequence[FaultFinding]) -> Iterator[str]:
    """Yield which curve is which, where the curves leave room: before or after they rise."""
    early = all(half_reached(axis, finding) < 0.5 for finding in findings)
    left, top = (RIGHT - 70.0, BOTTOM - 40.0) if early else (LEFT + 8.0, TOP + 12.0)
    for number, (finding, look) in enumerate(zip(findings, LOOKS, strict=False)):
        height = top + 15.0 * number
        yield stroke(left, height, left + 28.0, height, dash=look.dash, width=1.6)
        yield mark(left + 14.0, height, look.mark, filled=look.filled)
        side = finding.ladder.name.removeprefix(finding.ladder.fault.name).strip()
        yield words(left + 34.0, height + 4.0, side)


def half_reached(axis: Axis, finding: FaultFinding) -> float:
    """Return how far along the axis a fault is found half of the times."""
    assert finding.curve is not None
    return (finding.curve.thresholds[0].position - axis.first) / (axis.last - axis.first)
