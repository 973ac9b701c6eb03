"""What the curves of many units look like together, under one limit: middle, spread, outliers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray
from station.judging.files.planning import reference_of_table
from station.judging.tables.tables import BandTable, LimitFile, NumberTable
from station.judging.verdicts.bands import limits_at
from station.quality.judged.manyunits import AppliedLimit
from station.quality.learning.values import curve_values_of, usual_column
from station.records.columns.columns import Columns

LOW, HIGH = 1.0, 99.0  # percentiles
MOST_UNITS = 5000  # that the spread is drawn from; more look no different


@dataclass(frozen=True, slots=True, eq=False)
class CurveSpread:
    """Curves as a band judges them, shape (n,) each; NaN where a unit's outlier is inside."""

    frequency_hz: FloatArray
    low: FloatArray
    middle: FloatArray
    high: FloatArray
    unit: str
    relative: bool


@dataclass(frozen=True, slots=True, eq=False)
class Outliers:
    """The furthest values of failing units, shape (n,); NaN where none fails."""

    highest: FloatArray
    lowest: FloatArray


def curve_spread(units: Columns, band: BandTable, limits: LimitFile) -> CurveSpread | None:
    """Return the spread of the curves under a band, None if no unit has the curve."""
    column = usual_column(units, band.reading)
    if column is None:
        return None
    rows = np.flatnonzero(column.there)
    rows = rows[:: max(1, -(-rows.size // MOST_UNITS))]
    reference = reference_of_table(limits.reference) if limits.reference else None
    judged = curve_values_of(column, rows, band, reference, limits.readings.response.for_v)
    if judged.frequency_hz is None:
        return None
    whole = judged.values[np.isfinite(judged.values).all(axis=1)]
    if whole.shape[0] == 0:
        return None
    low, middle, high = np.percentile(whole, (LOW, 50.0, HIGH), axis=0)
    return CurveSpread(judged.frequency_hz, low, middle, high, judged.unit, band.mode != "absolute")


def outliers(
    units: Columns, band: BandTable, limits: LimitFile, applied: AppliedLimit
) -> Outliers | None:
    """Return the furthest values of units that a band fails, where they lie outside it."""
    column = usual_column(units, band.reading)
    if column is None:
        return None
    rows = np.unique(np.concatenate([found.rows for _, found in applied.causes]))
    rows = rows[column.there[rows]]
    reference = reference_of_table(limits.reference) if limits.reference else None
    judged = curve_values_of(column, rows, band, reference, limits.readings.response.for_v)
    if judged.frequency_hz is None:
        return None
    lower, upper = limits_at(judged.frequency_hz, band)
    above = np.where(judged.values > upper, judged.values, np.nan)
    below = np.where(judged.values < lower, judged.values, np.nan)
    return Outliers(np.fmax.reduce(above, axis=0, initial=np.nan),
                    np.fmin.reduce(below, axis=0, initial=np.nan))  # fmt: skip


def number_values(units: Columns, limit: NumberTable) -> tuple[FloatArray, str]:
    """Return the values of a number that units have, with its unit."""
    column = units.numbers.get(limit.reading)
    if column is None:
        return np.empty(0), ""
    return column.values[column.there & np.isfinite(column.values)], column.unit
