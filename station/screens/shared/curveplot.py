"""A curve with its tolerance band in character cells: numpy in, rows of spans out.

The curve is drawn finer than a cell, 2 x 2 with block characters or 2 x 4 with braille (which
some fonts lack). Limits are thin lines at three heights a cell, the room between them is shaded,
and points outside carry a mark by shape, so that nothing depends on colour.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from station.analysis.arrays import FloatArray
from station.judging.verdicts.verdict import AppliedBand
from station.screens.shared.plotaxes import (
    FrequencyAxis,
    ValueAxis,
    frequency_axis,
    frequency_ticks,
    label_start,
    value_axis,
    value_ticks,
)


class PlotMode(StrEnum):
    """How the curve is drawn."""

    BLOCKS = "blocks"
    BRAILLE = "braille"


class Ink(IntEnum):
    """What a character of the plot is."""

    EMPTY = 0
    AXIS = 1
    GRID = 2
    LIMIT = 3
    CURVE = 4
    OUTSIDE = 5


@dataclass(frozen=True, slots=True)
class Span:
    """Neighbouring characters of one kind, inside the band or not."""

    text: str
    ink: Ink
    in_band: bool


Row = tuple[Span, ...]
Cells = NDArray[np.str_]

LABEL_CELLS = 7  # six characters of a value and the axis
LEAST_COLUMNS = 12
LEAST_ROWS = 2
ABOVE, BELOW, MISSING = "▲", "▼", "×"
TOLERANCE = "┄"
LIMIT_LINES = np.array(["▔", "─", "▁"])
# Bits: upper left 1, upper right 2, lower left 4, lower right 8.
QUADRANTS = np.array(list(" ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"))
QUADRANT_BITS = np.array([[1, 2], [4, 8]])
# Unicode 15, chapter 21.1: dots 1-3 and 7 stand in the left column, 4-6 and 8 in the right.
BRAILLE = np.array([chr(0x2800 + bits) for bits in range(256)])
BRAILLE_BITS = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]])


@dataclass(slots=True)
class Canvas:
    """Characters and what they are, while a plot is drawn."""

    text: Cells
    ink: NDArray[np.uint8]
    in_band: NDArray[np.bool_]

    def put(self, where: NDArray[np.bool_], text: Cells | str, ink: Ink) -> None:
        """Set characters where the mask says."""
        self.text[where] = text[where] if isinstance(text, np.ndarray) else text
        self.ink[where] = ink


def plot_rows(band: AppliedBand, width: int, height: int, mode: PlotMode) -> list[Row]:
    """Return a plot as `height` rows of exactly `width` characters.

    Values may be NaN (a gap, marked ×) or infinite (at the edge); a missing limit is infinite.
    Too small a room, or a band without points, gives blank rows.
    """
    drawn = band.frequency_hz > 0.0
    columns, rows = width - LABEL_CELLS, height - 1
    if columns < LEAST_COLUMNS or rows < LEAST_ROWS or not drawn.any():
        return [(Span(" " * width, Ink.EMPTY, in_band=False),)] * height
    part = positive_part(band, drawn)
    across = frequency_axis(part.frequency_hz, columns)
    up = value_axis(part, rows)
    canvas = Canvas(
        np.full((rows, columns), " "),
        np.zeros((rows, columns), dtype=np.uint8),
        np.zeros((rows, columns), dtype=np.bool_),
    )
    draw_band(canvas, part, across, up)
    draw_tolerance(canvas, part, across, up)
    draw_grid(canvas, across, up)
    draw_curve(canvas, part, across, up, mode)
    draw_marks(canvas, part, across, up)
    return [*value_rows(canvas, up), frequency_row(across, band.unit, width)]


def positive_part(band: AppliedBand, drawn: NDArray[np.bool_]) -> AppliedBand:
    """Return the points a log axis has room for."""
    if drawn.all():
        return band
    return AppliedBand(
        band.frequency_hz[drawn],
        band.values[drawn],
        band.lower[drawn],
        band.upper[drawn],
        band.outside[drawn],
        band.unit,
        None if band.guard is None else band.guard[drawn],
    )


def draw_band(canvas: Canvas, band: AppliedBand, across: FrequencyAxis, up: ValueAxis) -> None:
    """Shade the room between the limits and draw both as lines."""
    rows, columns = canvas.text.shape
    centre = np.arange(columns) + 0.5
    place = across.column(band.frequency_hz)
    middle = np.arange(rows)[:, None] + 0.5
    inside = (centre >= place[0] - 0.5) & (centre <= place[-1] + 0.5)
    edges: list[FloatArray] = []
    for limit in (band.upper, band.lower):
        known = np.where(np.isfinite(limit), limit, np.nan)
        edges.append(up.row(np.interp(centre, place, known)))
    top, bottom = edges
    limited = inside & ~(np.isnan(top) & np.isnan(bottom))
    canvas.in_band[:] = (
        limited & ((middle >= top) | np.isnan(top)) & ((middle <= bottom) | np.isnan(bottom))
    )
    for edge in edges:
        draw_limit(canvas, np.where(inside, edge, np.nan))


def draw_limit(canvas: Canvas, edge: FloatArray) -> None:
    """Draw one limit: at three heights a cell, with uprights where it jumps."""
    rows, _ = canvas.text.shape
    shown = np.isfinite(edge) & (edge >= 0.0) & (edge <= rows)
    place = np.clip(np.where(shown, edge, 0.0), 0.0, rows - 1e-6)
    row = place.astype(np.intp)
    line = LIMIT_LINES[((place - row) * 3.0).astype(np.intp)]
    index = np.arange(rows)[:, None]
    earlier = np.concatenate((row[:1], row[:-1]))
    joined = shown & np.concatenate((shown[:1], shown[:-1]))
    between = (index > np.minimum(row, earlier)) & (index < np.maximum(row, earlier)) & joined
    canvas.put(between, "│", Ink.LIMIT)
    canvas.put((index == row) & shown, np.broadcast_to(line, canvas.text.shape), Ink.LIMIT)


def draw_tolerance(canvas: Canvas, band: AppliedBand, across: FrequencyAxis, up: ValueAxis) -> None:
    """Draw tolerance limits as dashes where guard bands set them apart from the band."""
    if band.guard is None:
        return
    rows, columns = canvas.text.shape
    centre, place = np.arange(columns) + 0.5, across.column(band.frequency_hz)
    apart = np.interp(centre, place, band.guard) > 0.0
    inside = (centre >= place[0] - 0.5) & (centre <= place[-1] + 0.5) & apart
    index = np.arange(rows)[:, None]
    for limit in (band.upper + band.guard, band.lower - band.guard):
        edge = up.row(np.interp(centre, place, np.where(np.isfinite(limit), limit, np.nan)))
        shown = inside & np.isfinite(edge) & (edge >= 0.0) & (edge < rows)
        row = np.where(shown, edge, 0.0).astype(np.intp)
        free = (index == row) & shown & (canvas.ink == Ink.EMPTY) & ~canvas.in_band
        canvas.put(free, TOLERANCE, Ink.LIMIT)


def draw_grid(canvas: Canvas, across: FrequencyAxis, up: ValueAxis) -> None:
    """Put a dot where the ticks of both axes cross, if nothing stands there."""
    crossing = np.zeros(canvas.text.shape, dtype=np.bool_)
    rows = [row for row, _ in value_ticks(up)]
    columns = [column for column, _ in frequency_ticks(across)]
    crossing[np.ix_(rows, columns)] = True
    canvas.put(crossing & (canvas.ink == Ink.EMPTY), "·", Ink.GRID)


def draw_curve(
    canvas: Canvas, band: AppliedBand, across: FrequencyAxis, up: ValueAxis, mode: PlotMode
) -> None:
    """Draw the measured curve as an unbroken line, finer than a cell."""
    bits = BRAILLE_BITS if mode is PlotMode.BRAILLE else QUADRANT_BITS
    letters = BRAILLE if mode is PlotMode.BRAILLE else QUADRANTS
    rows, columns = canvas.text.shape
    fine_rows, fine_columns = rows * bits.shape[0], columns * bits.shape[1]
    place = across.column(band.frequency_hz) * bits.shape[1]
    height = np.clip(up.row(band.values), -1.0, rows + 1.0) * bits.shape[0]
    top, bottom = column_extent(place, height, fine_columns)
    index = np.arange(fine_rows)[:, None]
    last = fine_rows - 1
    dots = (index >= np.clip(np.floor(top), 0, last)) & (
        index <= np.clip(np.floor(bottom), 0, last)
    )
    packed = np.einsum(
        "rick,ik->rc", dots.reshape(rows, bits.shape[0], columns, bits.shape[1]), bits
    )
    canvas.put(packed > 0, letters[packed], Ink.CURVE)


def column_extent(
    place: FloatArray, height: FloatArray, columns: int
) -> tuple[FloatArray, FloatArray]:
    """Return least and greatest height of a line in each column; NaN where there is no line."""
    edge = np.arange(columns + 1.0)
    at_edge = np.interp(edge, place, height, left=np.nan, right=np.nan)
    top = np.fmin(at_edge[:-1], at_edge[1:])
    bottom = np.fmax(at_edge[:-1], at_edge[1:])
    own = np.clip(place.astype(np.intp), 0, columns - 1)
    np.fmin.at(top, own, height)
    np.fmax.at(bottom, own, height)
    return top, bottom


def draw_marks(canvas: Canvas, band: AppliedBand, across: FrequencyAxis, up: ValueAxis) -> None:
    """Mark what is outside by shape: ▲ above, ▼ below, × where there is no value."""
    rows, columns = canvas.text.shape
    place = across.column(band.frequency_hz)
    height = np.clip(up.row(band.values), 0.0, rows - 1e-6)
    outside = (band.outside > 0.0) & ~np.isnan(band.values)
    with np.errstate(invalid="ignore"):  # infinite values against infinite limits
        above = outside & (band.values - band.upper >= band.lower - band.values)
    missing = np.isnan(band.values)
    point = point_of_column(place, outside | missing, columns)
    along = np.interp(np.arange(columns) + 0.5, place, height)
    along = np.where(np.isnan(along), height[point], along)
    own = np.clip(place.astype(np.intp), 0, columns - 1)
    flagged = outside | missing
    along[own[flagged]] = height[flagged]
    row = np.where(missing[point], rows - 1.0, along).astype(np.intp)
    index = np.arange(rows)[:, None]
    for wanted, mark in ((above, ABOVE), (outside & ~above, BELOW), (missing, MISSING)):
        canvas.put((index == row) & wanted[point], mark, Ink.OUTSIDE)


def point_of_column(
    place: FloatArray, flagged: NDArray[np.bool_], columns: int
) -> NDArray[np.intp]:
    """Return the point each column speaks for: the nearest, or one of its own that is flagged."""
    centre = np.arange(columns) + 0.5
    nearest: NDArray[np.intp] = np.rint(
        np.interp(centre, place, np.arange(float(place.size)))
    ).astype(np.intp)
    own = np.clip(place.astype(np.intp), 0, columns - 1)
    nearest[own[flagged]] = np.flatnonzero(flagged)
    return nearest


def value_rows(canvas: Canvas, up: ValueAxis) -> list[Row]:
    """Return the rows of the plot with the values of the ticks at the left."""
    labels: dict[int, str] = {}
    for row, label in value_ticks(up):
        labels.setdefault(row, f"{label:>{LABEL_CELLS - 1}}"[-LABEL_CELLS + 1 :] + "┤")
    plain = " " * (LABEL_CELLS - 1) + "│"
    kind = canvas.ink.astype(np.intp) * 2 + canvas.in_band
    columns = canvas.text.shape[1]
    lines = np.ascontiguousarray(canvas.text).view(f"U{columns}")[:, 0].tolist()
    rows: list[Row] = []
    for index, (line, kinds) in enumerate(zip(lines, kind, strict=True)):
        spans = [Span(labels.get(index, plain), Ink.AXIS, in_band=False)]
        starts = [0, *(np.flatnonzero(np.diff(kinds)) + 1).tolist(), columns]
        for start, stop in pairwise(starts):
            code = int(kinds[start])
            spans.append(Span(line[start:stop], Ink(code // 2), in_band=bool(code % 2)))
        rows.append(tuple(spans))
    return rows


def frequency_row(across: FrequencyAxis, unit: str, width: int) -> Row:
    """Return the bottom row: the unit of the values, and the frequencies in Hz."""
    line = [" "] * width
    line[: LABEL_CELLS - 1] = list(f"{unit:>{LABEL_CELLS - 1}}"[: LABEL_CELLS - 1])
    for column, label in frequency_ticks(across):
        start = min(LABEL_CELLS + label_start(column, label), width - len(label))
        line[start : start + len(label)] = list(label)
    if line[-3:] == [" "] * 3:
        line[-2:] = list("Hz")
    return (Span("".join(line), Ink.AXIS, in_band=False),)
