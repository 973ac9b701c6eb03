"""A tolerance band against the curves of many units at once, to the same answer as one by one.

Every value is compared in single precision first, which is exact: a stored value lies below a
limit just when it lies below the nearest single-precision number at or above that limit. Only
units with a violation, few in a sane draft, are then looked at as `judging.bands` does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.plan import Reference
from station.analysis.readings import Curve
from station.judging.tables.tables import BandTable
from station.judging.verdicts.bands import judged_points, limits_at, reference_level_db
from station.records.columns.columns import BoolArray, CurveColumn, RowNumbers, SingleArray

CHUNK = 4096  # rows compared at a time, so that they stay in the processor's cache


@dataclass(frozen=True, slots=True, eq=False)
class Violations:
    """Where some units lie outside one limit; arrays have the shape (f,) of those that do.

    `at_hz` is NaN for a number and for a floating band's level; `depth` is positive outside, in
    the reading's unit, and NaN where a number is absent.
    """

    rows: RowNumbers
    depth: FloatArray
    at_hz: FloatArray
    below: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Applied:
    """A band applied to many units: where its shape and its level fail, and whom noise drowns."""

    shape: Violations
    level: Violations  # empty for a band that does not float
    drowned: RowNumbers


@dataclass(frozen=True, slots=True, eq=False)
class PreparedBand:
    """A band on one frequency grid: the judged columns and the limits before any level floats."""

    band: BandTable
    frequency_hz: FloatArray
    columns: slice
    lower: FloatArray
    upper: FloatArray
    reference_db: FloatArray | None  # of a floating band


def prepared_band(
    column: CurveColumn, band: BandTable, reference: Reference | None, for_v: float
) -> PreparedBand | None:
    """Return a band ready for a column of curves, or None if it holds none of its points."""
    blank = np.zeros(column.frequency_hz.size)
    inside = np.flatnonzero(judged_points(Curve(column.frequency_hz, blank, column.unit), band))
    if inside.size == 0:
        return None
    columns = slice(int(inside[0]), int(inside[-1]) + 1)
    frequency_hz = column.frequency_hz[columns]
    lower, upper = limits_at(frequency_hz, band)
    if band.mode == "absolute":
        return PreparedBand(band, frequency_hz, columns, lower, upper, None)
    if reference is None:
        raise ValueError("a relative band needs a reference")
    reference_db = reference_level_db(reference, frequency_hz, for_v)
    if band.offset_db is None:
        lower, upper = lower + reference_db, upper + reference_db
        return PreparedBand(band, frequency_hz, columns, lower, upper, None)
    return PreparedBand(band, frequency_hz, columns, lower, upper, reference_db)


def rows_finite(column: CurveColumn, prepared: PreparedBand) -> BoolArray:
    """Return which units have a finite value at every judged point."""
    # Single-precision values cannot overflow a double-precision sum.
    with np.errstate(invalid="ignore"):
        total = column.values[:, prepared.columns].sum(axis=1, dtype=np.float64)
    finite: BoolArray = np.isfinite(total) & column.there
    return finite


def rows_outside(values: SingleArray, lower: FloatArray, upper: FloatArray) -> BoolArray:
    """Return which rows have a point beyond limits of shape (m,), forgiven or not."""
    least, most = single_above(lower), single_below(upper)
    outside = np.empty(values.shape[0], dtype=np.bool_)
    for begin in range(0, values.shape[0], CHUNK):
        chunk = values[begin : begin + CHUNK]
        outside[begin : begin + CHUNK] = ((chunk < least) | (chunk > most)).any(axis=1)
    return outside


def single_above(limit: FloatArray) -> SingleArray:
    """Return the least single-precision numbers at or above limits."""
    with np.errstate(over="ignore"):
        rounded: SingleArray = limit.astype(np.float32)
        up: SingleArray = np.nextafter(rounded, np.float32(np.inf))
    return np.where(rounded.astype(np.float64) < limit, up, rounded)


def single_below(limit: FloatArray) -> SingleArray:
    """Return the greatest single-precision numbers at or below limits."""
    return -single_above(-limit)


def applied_band(
    column: CurveColumn,
    prepared: PreparedBand,
    rows: RowNumbers,
    noise: CurveColumn | None = None,
    margin_db: float = 0.0,
) -> Applied:
    """Return how units lie in a band; with a noise, only what stands so far above it counts.

    `rows` must have a finite value at every judged point.
    """
    parts = []
    for begin in range(0, rows.size, CHUNK):
        part = rows[begin : begin + CHUNK]
        values = rows_of(column, prepared, part)
        noise_db = None if noise is None else rows_of(noise, prepared, part).astype(np.float64)
        if prepared.reference_db is None:
            found = fixed_part(prepared, part, values, noise_db, margin_db)
        else:
            found = floating_part(prepared, part, values, noise_db, margin_db)
        parts.append(found)
    if not parts:
        return Applied(joined([]), joined([]), np.empty(0, dtype=np.intp))
    return Applied(
        joined([part.shape for part in parts]),
        joined([part.level for part in parts]),
        np.concatenate([part.drowned for part in parts]),
    )


def rows_of(column: CurveColumn, prepared: PreparedBand, part: RowNumbers) -> SingleArray:
    """Return the judged points of some units; neighbours without a copy."""
    if part[-1] - part[0] + 1 == part.size:
        return column.values[part[0] : part[-1] + 1, prepared.columns]
    return column.values[part, prepared.columns]


def fixed_part(
    prepared: PreparedBand,
    rows: RowNumbers,
    values: SingleArray,
    noise_db: FloatArray | None,
    margin_db: float,
) -> Applied:
    """Return how some units lie in a band whose limits are the same for all."""
    suspects = rows_outside(values, prepared.lower, prepared.upper)
    if noise_db is not None:
        suspects |= hidden_points(prepared.lower, noise_db, margin_db).any(axis=1)
    chosen = np.flatnonzero(suspects)
    return exact_part(
        prepared,
        rows[chosen],
        values[chosen].astype(np.float64),
        np.broadcast_to(prepared.lower, (chosen.size, prepared.lower.size)),
        np.broadcast_to(prepared.upper, (chosen.size, prepared.upper.size)),
        None if noise_db is None else noise_db[chosen],
        margin_db,
    )


def floating_part(
    prepared: PreparedBand,
    rows: RowNumbers,
    singles: SingleArray,
    noise_db: FloatArray | None,
    margin_db: float,
) -> Applied:
    """Return how some units lie in a band that follows each unit's own level."""
    most_db, reference_db = prepared.band.offset_db, prepared.reference_db
    if most_db is None or reference_db is None:
        raise ValueError("only a floating band has a level of its own")
    values = singles.astype(np.float64)
    offset_db = np.mean(values - reference_db, axis=1)
    shift = reference_db + np.clip(offset_db, -most_db, most_db)[:, None]
    found = exact_part(
        prepared, rows, values, prepared.lower + shift, prepared.upper + shift, noise_db, margin_db
    )
    # The level is a mean over all points: where noise drowns some of them, it says nothing.
    off = (np.abs(offset_db) > most_db) & ~np.isin(rows, found.drowned)
    level = Violations(
        rows[off],
        -(most_db - np.abs(offset_db[off])),
        np.full(int(off.sum()), np.nan),
        offset_db[off] < 0.0,
    )
    return Applied(found.shape, level, found.drowned)


def exact_part(
    prepared: PreparedBand,
    rows: RowNumbers,
    values: FloatArray,
    lower: FloatArray,
    upper: FloatArray,
    noise_db: FloatArray | None,
    margin_db: float,
) -> Applied:
    """Return the worst point of each unit that violates; all arrays have the shape (f, m)."""
    under, over = lower - values, values - upper
    below = counted(prepared.frequency_hz, under, prepared.band)
    above = counted(prepared.frequency_hz, over, prepared.band)
    drowned = np.empty(0, dtype=np.intp)
    if noise_db is not None:
        hidden = hidden_points(lower, noise_db, margin_db)
        made = above & (values - noise_db < margin_db)
        drowned = rows[(hidden | made).any(axis=1)]
        below, above = below & ~hidden, above & ~made
    outside = below | above
    depth = np.maximum(under, over)
    depth = np.where(outside, depth, np.minimum(depth, 0.0))
    failing = np.flatnonzero(outside.any(axis=1))
    worst = np.argmax(depth[failing], axis=1)
    shape = Violations(
        rows[failing],
        depth[failing, worst],
        prepared.frequency_hz[worst],
        below[failing, worst],
    )
    return Applied(shape, joined([]), drowned)


def hidden_points(lower: FloatArray, noise_db: FloatArray, margin_db: float) -> BoolArray:
    """Return where noise would hide a value at the lower limit."""
    hidden: BoolArray = np.isfinite(lower) & (noise_db > lower - margin_db)
    return hidden


def counted(frequency_hz: FloatArray, depth: FloatArray, band: BandTable) -> BoolArray:
    """Return which points violate one side, without the runs of neighbours that a band forgives.

    As `judging.bands.counted`, for depths of shape (f, m).
    """
    outside: BoolArray = depth > 0.0
    if band.forgive_octaves == 0.0 and band.forgive_depth == 0.0:
        return outside
    rows, points = outside.shape
    padded = np.zeros((rows, points + 1), dtype=np.int8)  # a gap, so that no run spans two rows
    padded[:, :points] = outside
    steps = np.diff(np.concatenate(([0], padded.ravel())))
    firsts, ends = np.flatnonzero(steps == 1), np.flatnonzero(steps == -1)
    halfway = np.sqrt(frequency_hz[1:] * frequency_hz[:-1])
    edges_hz = np.concatenate((frequency_hz[:1], halfway, frequency_hz[-1:]))
    for first, end in zip(firsts, ends, strict=True):
        row, begin = divmod(int(first), points + 1)
        stop = begin + int(end - first)
        octaves = math.log2(edges_hz[stop] / edges_hz[begin])
        deepest = depth[row, begin:stop].max()
        if octaves < band.forgive_octaves or deepest <= band.forgive_depth:
            outside[row, begin:stop] = False
    return outside


def joined(parts: list[Violations]) -> Violations:
    """Return the violations of several groups of rows as one."""
    return Violations(
        np.concatenate([np.empty(0, dtype=np.intp), *(part.rows for part in parts)]),
        np.concatenate([np.empty(0), *(part.depth for part in parts)]),
        np.concatenate([np.empty(0), *(part.at_hz for part in parts)]),
        np.concatenate([np.empty(0, dtype=np.bool_), *(part.below for part in parts)]),
    )
