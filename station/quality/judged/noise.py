"""Which limits a steady noise leaves nothing to say about, for many units at once.

As `judging.signaltonoise`, whose words and rules these are.
"""

from __future__ import annotations

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.gathering import FILTER_NAMES, PATTERN_NAMES
from station.analysis.signals.levelcurves import power_mean_db
from station.judging.tables.tables import BandTable, LimitFile, NumberTable
from station.judging.verdicts.signaltonoise import (
    IDLE_NAMES,
    Needed,
    drowned_number,
    good_level_db,
    needed_by,
    span_of,
)
from station.records.columns.columns import BoolArray, Columns, CurveColumn, RowNumbers

UNSURE_DB = 1e-6  # sums in another order differ by less; nearer than this the judge itself is asked


def noise_heard(units: Columns, limit: BandTable | NumberTable, limits: LimitFile) -> BoolArray:
    """Return for which units the noise is known that a reading must stand above, if it must."""
    needed = needed_by(limit.reading, limits.readings)
    if needed is None:
        return np.ones(units.count, dtype=np.bool_)
    heard = np.zeros(units.count, dtype=np.bool_)
    for column in units.curves.get(needed.noise, ()):
        heard |= column.there
    if (number := units.numbers.get(needed.noise)) is not None:
        heard |= number.there
    return heard


def noise_beside(units: Columns, needed: Needed, column: CurveColumn) -> CurveColumn | None:
    """Return the noise that was read on the same grid as a curve."""
    for noise in units.curves.get(needed.noise, ()):
        if np.array_equal(noise.frequency_hz, column.frequency_hz):
            return noise
    return None


def drowned_numbers(
    units: Columns, limit: NumberTable, limits: LimitFile, rows: RowNumbers
) -> BoolArray:
    """Return which of `rows` noise leaves nothing to say about in one number."""
    needed = needed_by(limit.reading, limits.readings)
    if needed is None:
        return np.zeros(rows.size, dtype=np.bool_)
    ratio_db = least_ratio_db(units, limit, limits, needed)
    drowned: BoolArray = ratio_db < needed.margin_db
    unsure = np.abs(ratio_db - needed.margin_db) < UNSURE_DB
    for row in rows[unsure[rows]]:
        readings = units.readings(int(row))
        number = readings.numbers[limit.reading]
        drowned[row] = drowned_number(limit, number, readings, limits) is not None
    return drowned[rows]


def least_ratio_db(
    units: Columns, limit: NumberTable, limits: LimitFile, needed: Needed
) -> FloatArray:
    """Return by how much what a number is read from stands above the noise, where it is least.

    Infinite where noise does not decide.
    """
    ratio_db = np.full(units.count, np.inf)
    if limit.reading in IDLE_NAMES:
        values = units.numbers[limit.reading].values
        noise = units.numbers.get(needed.noise)
        if limit.upper is None or noise is None:
            return ratio_db
        return np.where(values > limit.upper, values - noise.values, np.inf)
    for noise_curve in units.curves.get(needed.noise, ()):
        there = np.flatnonzero(noise_curve.there)
        found = ratios_db(noise_curve, there, limit, limits)
        if found is not None:
            ratio_db[there] = found
    return ratio_db


def ratios_db(
    noise: CurveColumn, rows: RowNumbers, limit: NumberTable, limits: LimitFile
) -> FloatArray | None:
    """Return the ratios on one grid, or None if this limit needs nothing there."""
    if limit.reading in PATTERN_NAMES:
        if limits.learned is None:
            return None
        return least_of(limits.learned.mean - noise.values[rows].astype(np.float64))
    from_hz, to_hz = span_of(limit.reading, limits.readings)
    inside = (noise.frequency_hz >= from_hz) & (noise.frequency_hz <= to_hz)
    good_db = good_level_db(limit, noise.frequency_hz[inside], limits) if inside.any() else None
    if good_db is None:
        return None
    noise_db = noise.values[np.ix_(rows, np.flatnonzero(inside))].astype(np.float64)
    if limit.reading in FILTER_NAMES:
        return least_of(good_db - noise_db)
    weights = np.full(good_db.size, 1.0 / good_db.size)
    return power_mean_db(good_db, weights) - power_mean_db(noise_db, weights)


def least_of(ratio_db: FloatArray) -> FloatArray:
    """Return the least ratio of each row, leaving aside points without a value."""
    least: FloatArray = np.fmin.reduce(ratio_db, axis=1)
    return least
