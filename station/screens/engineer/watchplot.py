"""A control chart in character cells: points between their limits, told apart by shape."""

from __future__ import annotations

import numpy as np

from station.analysis.arrays import FloatArray
from station.quality.statistics.charts import Chart

LABEL_CELLS = 9
LEAST_COLUMNS, LEAST_ROWS = 10, 5
POINT, OUTSIDE, LIMIT, CENTRE, BEGIN = "•", "■", "╌", "─", "│"


def chart_lines(chart: Chart, width: int, height: int, baseline: int) -> tuple[str, ...]:
    """Return a chart as `height` lines of exactly `width` characters, the newest points shown.

    The upright line ends the baseline, if that is in sight.
    """
    columns = width - LABEL_CELLS
    if columns < LEAST_COLUMNS or height < LEAST_ROWS or chart.points.size == 0:
        return (" " * width,) * height
    first = max(0, chart.points.size - columns)
    points, lower, upper, centre = (
        part[first:] for part in (chart.points, chart.lower, chart.upper, chart.centre)
    )
    low = float(min(points.min(), lower.min()))
    high = float(max(points.max(), upper.max()))
    canvas = np.full((height, columns), " ")
    if first < baseline <= first + points.size:
        canvas[:, baseline - 1 - first] = BEGIN
    place = np.arange(points.size)
    outside = (points > upper) | (points < lower)
    for values, sign in ((centre, CENTRE), (lower, LIMIT), (upper, LIMIT)):
        canvas[rows_of(values, low, high, height), place] = sign
    rows = rows_of(points, low, high, height)
    canvas[rows, place] = np.where(outside, OUTSIDE, POINT)
    labels = {
        int(rows_of(values[-1:], low, high, height)[0]): f"{float(values[-1]):.4g}"
        for values in (centre, lower, upper)
    }
    return tuple(
        f"{labels.get(row, ''):>{LABEL_CELLS - 1}} " + "".join(line)
        for row, line in enumerate(canvas)
    )


def rows_of(values: FloatArray, low: float, high: float, height: int) -> np.ndarray:
    """Return in which row values stand, the highest on top."""
    span = high - low or 1.0
    return np.clip(np.rint((high - values) / span * (height - 1)), 0, height - 1).astype(np.intp)
