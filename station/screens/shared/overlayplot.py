"""Several curves on one plot of character cells, each drawn with a figure of its own."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from station.analysis.readings import Curve
from station.judging.verdicts.verdict import AppliedBand
from station.screens.shared.plotaxes import (
    frequency_axis,
    frequency_ticks,
    label_start,
    value_axis,
    value_ticks,
)

LABEL_CELLS = 7
TOGETHER = "="  # where curves lie in the same cell


def overlay_lines(curves: Sequence[Curve], width: int, height: int) -> list[str]:
    """Return curves of one unit as lines of text: the first is drawn with 1, the second with 2.

    Where several curves meet in a cell it says =, so that nothing hides behind the last one.
    """
    columns, rows = width - LABEL_CELLS, height - 1
    all_hz = np.unique(np.concatenate([curve.frequency_hz for curve in curves]))
    values = np.concatenate([curve.values for curve in curves])
    nothing = np.full(values.shape, np.inf)
    whole = AppliedBand(
        np.arange(1.0, values.size + 1.0),
        values,
        -nothing,
        nothing,
        np.zeros(values.shape),
        curves[0].unit,
    )
    across, up = frequency_axis(all_hz, columns), value_axis(whole, rows)
    cells = np.full((rows, columns), " ")
    at_hz = across.frequency_hz(np.arange(columns, dtype=np.float64) + 0.5)
    for number, curve in enumerate(curves, start=1):
        drawn = np.interp(np.log(at_hz), np.log(curve.frequency_hz), curve.values, np.nan, np.nan)
        there = np.flatnonzero(np.isfinite(drawn))
        row = np.clip(up.row(drawn[there]).astype(int), 0, rows - 1)
        taken = cells[row, there] != " "
        cells[row, there] = np.where(taken, TOGETHER, str(number))
    labels = dict(value_ticks(up))
    lines = [f"{labels.get(row, ''):>6}│{''.join(cells[row])}" for row in range(rows)]
    lines.append(frequency_line(curves[0].unit, frequency_ticks(across), width))
    return [line.rstrip() for line in lines]


def frequency_line(unit: str, ticks: Sequence[tuple[int, str]], width: int) -> str:
    """Return the line under the plot: the unit of the values, then frequencies in Hz."""
    line = list(" " * width)
    line[: len(unit)] = unit
    for column, label in ticks:
        start = LABEL_CELLS + label_start(column, label)
        if start >= LABEL_CELLS and start + len(label) <= width:
            line[start : start + len(label)] = label
    return "".join(line)
