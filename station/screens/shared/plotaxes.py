"""Scales and ticks of a curve over log frequency, drawn in character cells."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray
from station.judging.verdicts.verdict import AppliedBand

ROWS_PER_VALUE_TICK = 2.5
STEPS = (1.0, 2.0, 5.0, 10.0)


@dataclass(frozen=True, slots=True)
class FrequencyAxis:
    """Log frequency over so many columns."""

    low_hz: float
    high_hz: float
    columns: int

    def column(self, frequency_hz: FloatArray) -> FloatArray:
        """Return where frequencies stand, in columns from the left edge."""
        octaves = math.log(self.high_hz / self.low_hz)
        place: FloatArray = np.log(frequency_hz / self.low_hz) * (self.columns / octaves)
        return place

    def frequency_hz(self, column: FloatArray) -> FloatArray:
        """Return the frequencies at places in columns from the left edge."""
        octaves = math.log(self.high_hz / self.low_hz)
        frequency: FloatArray = self.low_hz * np.exp(column * (octaves / self.columns))
        return frequency


@dataclass(frozen=True, slots=True)
class ValueAxis:
    """Values over so many rows, the highest on top."""

    low: float
    high: float
    rows: int

    def row(self, values: FloatArray) -> FloatArray:
        """Return where values stand, in rows from the top edge; NaN stays NaN."""
        place: FloatArray = (self.high - values) * (self.rows / (self.high - self.low))
        return place


def frequency_axis(frequency_hz: FloatArray, columns: int) -> FrequencyAxis:
    """Return the axis that holds all frequencies; a single one stands in the middle."""
    low, high = float(frequency_hz[0]), float(frequency_hz[-1])
    if high / low < 1.01:
        low, high = low / 2.0, high * 2.0
    return FrequencyAxis(low, high, columns)


def value_axis(band: AppliedBand, rows: int) -> ValueAxis:
    """Return the axis that holds the finite limits whole, and the curve as far as it is sensible.

    A curve far outside (a dead tweeter) may take as much room below and above as the limits span,
    not more: the band must stay readable.
    """
    guard = np.zeros(band.values.shape) if band.guard is None else band.guard
    limits = np.concatenate((finite(band.lower - guard), finite(band.upper + guard)))
    values = finite(band.values)
    if limits.size and values.size:
        low, high = float(limits.min()), float(limits.max())
        room = max(high - low, 1e-9 + 0.05 * max(abs(low), abs(high)))
        low = min(low, max(float(values.min()), low - room))
        high = max(high, min(float(values.max()), high + room))
    elif limits.size or values.size:
        given = limits if limits.size else values
        low, high = float(given.min()), float(given.max())
    else:
        low, high = 0.0, 1.0
    edge = 0.04 * (high - low) or 0.5 * abs(high) or 0.5
    return ValueAxis(low - edge, high + edge, rows)


def finite(values: FloatArray) -> FloatArray:
    """Return the finite ones."""
    return values[np.isfinite(values)]


def value_ticks(axis: ValueAxis) -> tuple[tuple[int, str], ...]:
    """Return row and label of round values, about one to every few rows."""
    wanted = (axis.high - axis.low) * ROWS_PER_VALUE_TICK / axis.rows
    power = 10.0 ** math.floor(math.log10(wanted))
    step = power * next(step for step in STEPS if step * power >= wanted * 0.999)
    decimals = max(0, -math.floor(math.log10(step)))
    first, last = math.ceil(axis.low / step), math.floor(axis.high / step)
    ticks: list[tuple[int, str]] = []
    for count in range(last, first - 1, -1):
        row = min(axis.rows - 1, int(axis.row(np.array([count * step]))[0]))
        label = f"{count * step:.{decimals}f}".replace("-", "−")
        ticks.append((row, label))
    return tuple(ticks)


def frequency_ticks(axis: FrequencyAxis) -> tuple[tuple[int, str], ...]:
    """Return column and label of 20, 50, 100 Hz and so on, as many as have room, from the left."""
    decades = range(
        math.floor(math.log10(axis.low_hz)) - 1, math.ceil(math.log10(axis.high_hz)) + 1
    )
    places = [
        (order, 10.0**decade * digit)
        for order, digit in ((0, 1), (1, 2), (1, 5))
        for decade in decades
    ]
    taken: list[tuple[int, str]] = []
    for _, hz in sorted(places):
        if not axis.low_hz * 0.999 <= hz <= axis.high_hz * 1.001:
            continue
        place = axis.column(np.array([hz]))[0]
        column, label = min(axis.columns - 1, max(0, int(place))), hertz_label(hz)
        if all(apart(column, label, *other) for other in taken):
            taken.append((column, label))
    return tuple(sorted(taken))


def hertz_label(hz: float) -> str:
    """Return 20, 500, 1k, 20k."""
    return f"{hz / 1000.0:g}k" if hz >= 1000.0 else f"{hz:g}"


def label_start(column: int, label: str) -> int:
    """Return where a label begins so that it stands centred under its column."""
    return column - len(label) // 2


def apart(column: int, label: str, other_column: int, other_label: str) -> bool:
    """Return whether two labels leave a space between them."""
    start, other_start = label_start(column, label), label_start(other_column, other_label)
    return start > other_start + len(other_label) or other_start > start + len(label)
