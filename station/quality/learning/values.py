"""What a limit judges, unit by unit, as it is learned from: the curve or number itself."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.plan import Reference
from station.errors import RefusedInputError
from station.judging.files.planning import reference_of_table
from station.judging.tables.tables import BandTable, LimitFile, NumberTable
from station.judging.verdicts.bands import reference_level_db
from station.quality.judged.bands import prepared_band, rows_finite
from station.quality.learning.factor import Sides
from station.records.columns.columns import BoolArray, Columns, CurveColumn, RowNumbers


@dataclass(frozen=True, slots=True, eq=False)
class JudgedValues:
    """Values of shape (n, m) under one limit; a number has one column and no frequencies.

    Of a relative band they are differences from the reference, of a floating one what is left of
    them without the unit's own level, which stands in `level`.
    """

    reading: str
    unit: str
    sides: Sides
    values: FloatArray
    frequency_hz: FloatArray | None = None
    level: FloatArray | None = None


def readable_units(units: Columns, limits: LimitFile) -> BoolArray:
    """Return which units have every reading that the limits judge, on one and the same grid."""
    readable = np.ones(units.count, dtype=np.bool_)
    reference = reference_of_table(limits.reference) if limits.reference else None
    for band in limits.bands:
        column = usual_column(units, band.reading)
        for_v = limits.readings.response.for_v
        prepared = None if column is None else prepared_band(column, band, reference, for_v)
        if column is None or prepared is None:
            raise RefusedInputError(
                f"No unit has the curve {band.reading!r} that a band judges.",
                "Choose units that were tested by these readings, or take the band out.",
            )
        readable &= rows_finite(column, prepared)
    for limit in limits.numbers:
        number = units.numbers.get(limit.reading)
        if number is None:
            raise RefusedInputError(
                f"No unit has the number {limit.reading!r} that a limit judges.",
                "Choose units that were tested by these readings, or take the limit out.",
            )
        readable &= number.there & np.isfinite(number.values)
    return readable


def usual_column(units: Columns, reading: str) -> CurveColumn | None:
    """Return a curve on the grid that most units were read on."""
    grids = units.curves.get(reading, ())
    return max(grids, key=lambda column: int(column.there.sum()), default=None)


def values_of(
    units: Columns, rows: RowNumbers, limit: BandTable | NumberTable, limits: LimitFile
) -> JudgedValues:
    """Return what one limit judges of some units, all of which have it."""
    if isinstance(limit, NumberTable):
        number = units.numbers[limit.reading]
        sides = sides_of(limit.lower is None, limit.upper is None)
        return JudgedValues(limit.reading, number.unit, sides, number.values[rows][:, None])
    column = usual_column(units, limit.reading)
    reference = reference_of_table(limits.reference) if limits.reference else None
    if column is None:
        raise ValueError(f"no unit has the curve {limit.reading!r}")
    return curve_values_of(column, rows, limit, reference, limits.readings.response.for_v)


def curve_values_of(
    column: CurveColumn,
    rows: RowNumbers,
    band: BandTable,
    reference: Reference | None,
    for_v: float,
) -> JudgedValues:
    """Return what a band judges of some units' curves."""
    prepared = prepared_band(column, band, reference, for_v)
    if prepared is None:
        raise ValueError(f"the band on {band.reading!r} holds no point of the curve")
    sides = sides_of(math.isinf(band.points[0][1]), math.isinf(band.points[0][2]))
    values = column.values[rows, prepared.columns].astype(np.float64)
    frequency_hz = prepared.frequency_hz
    if band.mode != "absolute" and reference is not None:
        values = values - reference_level_db(reference, frequency_hz, for_v)
    if band.mode != "floating":
        return JudgedValues(band.reading, column.unit, sides, values, frequency_hz)
    level = np.mean(values, axis=1)
    shape = values - level[:, None]
    return JudgedValues(band.reading, column.unit, sides, shape, frequency_hz, level)


def sides_of(no_lower: bool, no_upper: bool) -> Sides:  # noqa: FBT001 - the two ends in order
    """Return the sides of a limit, one of which may be open."""
    if no_lower:
        return Sides.UPPER
    return Sides.LOWER if no_upper else Sides.BOTH
