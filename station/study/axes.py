"""Axes of severity: from a ladder's positions to points on paper, and where the ticks stand."""

from __future__ import annotations

from collections.abc import Iterable

from station.drawing.axes import Axis, decade_positions, round_positions
from station.study.ladders import SeverityLadder

MARGIN_RATIO = 0.04


def axis_for(ladders: Iterable[SeverityLadder], left: float, right: float) -> Axis:
    """Return an axis on which every rung of some ladders finds its place."""
    positions = [ladder.position(s) for ladder in ladders for s in ladder.severities]
    margin = MARGIN_RATIO * (max(positions) - min(positions))
    return Axis(min(positions) - margin, max(positions) + margin, left, right)


def ticks(axis: Axis, ladder: SeverityLadder) -> list[tuple[float, str]]:
    """Return positions and words of round severities; two sides share them, so without a sign."""
    if ladder.logarithmic:
        return [(at, f"{100.0 * share:.3g} %") for at, share in decade_positions(axis)]
    return [(at, f"{ladder.severity(at):g}") for at in round_positions(axis)]


def caption(ladder: SeverityLadder) -> str:
    """Return what stands under an axis of one fault; shares have their unit at the ticks."""
    unit = "" if ladder.logarithmic else f", {ladder.fault.unit}"
    return f"{ladder.fault.meaning}{unit}"
