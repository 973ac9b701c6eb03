"""Many units under one limit, in character cells: curves over their band, or a number's spread."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray
from station.judging.verdicts.verdict import AppliedBand
from station.screens.shared.curveplot import (
    ABOVE,
    BELOW,
    LABEL_CELLS,
    LEAST_COLUMNS,
    LEAST_ROWS,
    Canvas,
    Ink,
    PlotMode,
    Row,
    Span,
    draw_band,
    draw_curve,
    draw_grid,
    frequency_row,
    value_rows,
)
from station.screens.shared.plotaxes import FrequencyAxis, ValueAxis, frequency_axis, value_axis

SPREAD, POINT, CHOSEN = "░", "○", "◆"
BARS = " ▁▂▃▄▅▆▇█"
LIMIT_BAR, CHOSEN_BAR = "│", "┃"
INNER_SHARE = 0.005  # of the values may lie in the outermost columns of a histogram


@dataclass(frozen=True, slots=True, eq=False)
class CurvesPicture:
    """What is drawn of many curves: arrays of shape (n,), NaN where there is nothing.

    `points` are the breakpoints of the side that is edited, `chosen` is one of them.
    """

    frequency_hz: FloatArray
    low: FloatArray
    middle: FloatArray
    high: FloatArray
    lower: FloatArray
    upper: FloatArray
    highest_outside: FloatArray
    lowest_outside: FloatArray
    points: Sequence[tuple[float, float]]
    chosen: int
    unit: str


@dataclass(frozen=True, slots=True, eq=False)
class NumbersPicture:
    """What is drawn of many numbers; a missing limit is infinite."""

    values: FloatArray
    lower: float
    upper: float
    lower_chosen: bool
    unit: str


def blank_rows(width: int, height: int) -> list[Row]:
    """Return rows with nothing in them."""
    return [(Span(" " * width, Ink.EMPTY, in_band=False),)] * height


def new_canvas(rows: int, columns: int) -> Canvas:
    """Return an empty canvas."""
    return Canvas(
        np.full((rows, columns), " "),
        np.zeros((rows, columns), dtype=np.uint8),
        np.zeros((rows, columns), dtype=np.bool_),
    )


def curves_rows(picture: CurvesPicture, width: int, height: int) -> list[Row]:
    """Return many curves over their band as `height` rows of exactly `width` characters."""
    columns, rows = width - LABEL_CELLS, height - 1
    if columns < LEAST_COLUMNS or rows < LEAST_ROWS:
        return blank_rows(width, height)
    band = AppliedBand(
        picture.frequency_hz,
        picture.middle,
        picture.lower,
        picture.upper,
        np.zeros(picture.middle.size),
        picture.unit,
    )
    across, up = frequency_axis(picture.frequency_hz, columns), value_axis(band, rows)
    canvas = new_canvas(rows, columns)
    draw_band(canvas, band, across, up)
    draw_grid(canvas, across, up)
    draw_spread(canvas, picture, across, up)
    draw_curve(canvas, band, across, up, PlotMode.BLOCKS)
    draw_outside(canvas, picture, across, up)
    draw_points(canvas, picture, across, up)
    return [*value_rows(canvas, up), frequency_row(across, picture.unit, width)]


def draw_spread(
    canvas: Canvas, picture: CurvesPicture, across: FrequencyAxis, up: ValueAxis
) -> None:
    """Fill the room in which nearly all curves lie."""
    rows, columns = canvas.text.shape
    centre = np.arange(columns) + 0.5
    place = across.column(picture.frequency_hz)
    top = up.row(np.interp(centre, place, picture.high))
    bottom = up.row(np.interp(centre, place, picture.low))
    index = np.arange(rows)[:, None]
    inside = (index >= np.floor(top)) & (index <= np.floor(bottom))
    free = (canvas.ink == Ink.EMPTY) | (canvas.ink == Ink.GRID)
    canvas.put(inside & free, SPREAD, Ink.AXIS)


def draw_outside(
    canvas: Canvas, picture: CurvesPicture, across: FrequencyAxis, up: ValueAxis
) -> None:
    """Mark the furthest values of failing units: ▲ above the band, ▼ below it."""
    rows, columns = canvas.text.shape
    place = np.clip(across.column(picture.frequency_hz).astype(np.intp), 0, columns - 1)
    for values, mark in ((picture.highest_outside, ABOVE), (picture.lowest_outside, BELOW)):
        known = ~np.isnan(values)
        row = np.clip(up.row(values[known]), 0.0, rows - 1e-6).astype(np.intp)
        where = np.zeros(canvas.text.shape, dtype=np.bool_)
        where[row, place[known]] = True
        canvas.put(where, mark, Ink.OUTSIDE)


def draw_points(
    canvas: Canvas, picture: CurvesPicture, across: FrequencyAxis, up: ValueAxis
) -> None:
    """Mark the breakpoints of the side that is edited, the chosen one last."""
    rows, columns = canvas.text.shape
    order = [index for index in range(len(picture.points)) if index != picture.chosen]
    for index in [*order, picture.chosen]:
        hz, value = picture.points[index]
        if not np.isfinite(value):
            continue
        column = int(np.clip(across.column(np.array([hz]))[0], 0, columns - 1))
        row = int(np.clip(up.row(np.array([value]))[0], 0, rows - 1))
        chosen = index == picture.chosen
        canvas.text[row, column] = CHOSEN if chosen else POINT
        canvas.ink[row, column] = Ink.OUTSIDE if chosen else Ink.LIMIT


def numbers_rows(picture: NumbersPicture, width: int, height: int) -> list[Row]:
    """Return a number's spread as a histogram with its limits as uprights."""
    columns, rows = width - LABEL_CELLS, height - 1
    if columns < LEAST_COLUMNS or rows < LEAST_ROWS or picture.values.size == 0:
        return blank_rows(width, height)
    low, high = number_range(picture)
    edges = np.linspace(low, high, columns + 1)
    counts, _ = np.histogram(np.clip(picture.values, low, high), edges)
    canvas = new_canvas(rows, columns)
    eighths = np.ceil(counts / counts.max() * rows * 8.0).astype(np.intp)
    for row in range(rows):
        level = np.clip(eighths - 8 * (rows - 1 - row), 0, 8)
        canvas.text[row] = np.array(list(BARS))[level]
        canvas.ink[row] = np.where(level > 0, Ink.CURVE, Ink.EMPTY)
    for limit, chosen in ((picture.lower, picture.lower_chosen),
                          (picture.upper, not picture.lower_chosen)):  # fmt: skip
        if np.isfinite(limit):
            column = int(np.clip((limit - low) / (high - low) * columns, 0, columns - 1))
            canvas.text[:, column] = CHOSEN_BAR if chosen else LIMIT_BAR
            canvas.ink[:, column] = Ink.OUTSIDE if chosen else Ink.LIMIT
    up = ValueAxis(0.0, float(counts.max()), rows)
    return [*value_rows(canvas, up), number_row(low, high, picture.unit, width)]


def number_range(picture: NumbersPicture) -> tuple[float, float]:
    """Return the range that is drawn: nearly all values, and the limits with a little room."""
    inner = np.quantile(picture.values, (INNER_SHARE, 1.0 - INNER_SHARE))
    given = [*inner, *(limit for limit in (picture.lower, picture.upper) if np.isfinite(limit))]
    low, high = float(min(given)), float(max(given))
    room = 0.08 * (high - low) or 0.5 * abs(high) or 0.5
    return low - room, high + room


def number_row(low: float, high: float, unit: str, width: int) -> Row:
    """Return the bottom row: the unit and values along the axis."""
    left, middle, right = (f"{value:.4g}" for value in (low, (low + high) / 2.0, high))
    room = width - LABEL_CELLS
    line = f"{unit:>{LABEL_CELLS - 1}} " + left
    line = line.ljust(LABEL_CELLS + room // 2 - len(middle) // 2) + middle
    line = line.ljust(width - len(right)) + right
    return (Span(line[:width].ljust(width), Ink.AXIS, in_band=False),)
