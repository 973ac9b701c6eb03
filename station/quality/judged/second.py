"""A second look at the units that fail: some fails are not the unit's, as the judge says too.

Something else than the model may stand in the fixture, or a sensor may be off. Both are told from
what fails together; the first is asked of the judge itself, unit by unit, where it can be.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Protocol

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.measure import Measured
from station.judging.tables.tables import AdviceTable, Finding, LimitFile
from station.judging.verdicts.judge import judge
from station.judging.verdicts.sensorguard import (
    FEWEST_OCTAVES,
    IMPEDANCES,
    LEAST_OVER_MOST,
    LEVELS,
    NARROW_RATIO,
)
from station.judging.verdicts.verdict import Verdict
from station.quality.judged.bands import Violations, prepared_band
from station.records.columns.columns import BoolArray, Columns, CurveColumn, RowNumbers

IMPEDANCE = "impedance"
LEVEL_PREFIX = "level."


class Blamed(Protocol):
    """A limit that was applied to all units."""

    @property
    def reading(self) -> str:
        """What it judges."""

    @property
    def causes(self) -> tuple[tuple[str, Violations], ...]:
        """Its violations by the name of the cause."""


def mistaken_rows(
    units: Columns, limits: LimitFile, applied: Sequence[Blamed], failed: BoolArray
) -> RowNumbers:
    """Return which failing units are void, because the advice that fits says what stands there."""
    may_be = np.zeros(units.count, dtype=np.bool_)
    for rule in limits.advice:
        if rule.void:
            may_be |= rows_that_may_fit(rule, applied, units.count)
    rows = np.flatnonzero(may_be & failed)
    void = [
        judge(Measured(units.readings(int(row)), ()), limits).verdict is Verdict.VOID
        for row in rows
    ]
    return rows[np.array(void, dtype=np.bool_)]


def rows_that_may_fit(rule: AdviceTable, applied: Sequence[Blamed], count: int) -> BoolArray:
    """Return which units have all that a rule asks for, as far as their worst points tell."""
    fits = np.ones(count, dtype=np.bool_)
    for finding in rule.when:
        fits &= rows_with(finding, applied, count)
    return fits


def rows_with(finding: Finding, applied: Sequence[Blamed], count: int) -> BoolArray:
    """Return which units are outside as far as a finding asks for, somewhere."""
    found = np.zeros(count, dtype=np.bool_)
    for limit in applied:
        if limit.reading == finding.reading:
            for _, violations in limit.causes:
                deep = np.isnan(violations.depth) | (violations.depth >= finding.by)
                found[violations.rows[deep]] = True
    return found


def sensors_rows(
    units: Columns, accepted: LimitFile, applied: Sequence[Blamed], failed: BoolArray
) -> BoolArray:
    """Return which failing units are off alike everywhere, as a sensor makes it."""
    by_level = failed & all_blamed_match(LEVELS, applied, units.count)
    off = by_level & levels_alike(units)
    by_impedance = failed & all_blamed_match(IMPEDANCES, applied, units.count)
    for rows, offs in impedance_offs(units, accepted, np.flatnonzero(by_impedance)):
        off[rows] |= alike(offs)
    return off


def all_blamed_match(pattern: re.Pattern[str], applied: Sequence[Blamed], count: int) -> BoolArray:
    """Return for which units every cause has a name of one kind."""
    match = np.ones(count, dtype=np.bool_)
    for limit in applied:
        for name, violations in limit.causes:
            if not pattern.fullmatch(name):
                match[violations.rows] = False
    return match


def levels_alike(units: Columns) -> BoolArray:
    """Return which units have two or more section levels that are off alike."""
    levels = [
        np.where(column.there, column.values, np.nan)
        for name, column in units.numbers.items()
        if name.startswith(LEVEL_PREFIX)
    ]
    if len(levels) < 2:
        return np.zeros(units.count, dtype=np.bool_)
    return alike(np.stack(levels, axis=1))


def impedance_offs(
    units: Columns, accepted: LimitFile, rows: RowNumbers
) -> Iterator[tuple[RowNumbers, FloatArray]]:
    """Yield by how much impedances lie off the middle of their band, octave by octave, as ln.

    As `judging.sensorguard.octave_medians`.
    """
    bands = [band for band in accepted.bands if band.reading == IMPEDANCE]
    for column in units.curves.get(IMPEDANCE, ()):
        own = rows[column.there[rows]]
        prepared = None
        if bands and own.size:
            prepared = prepared_band(column, bands[-1], None, accepted.readings.response.for_v)
        if prepared is None:
            continue
        middle = 0.5 * (prepared.lower + prepared.upper)
        reach = 0.5 * (prepared.upper - prepared.lower)
        narrow = np.isfinite(reach) & (reach < NARROW_RATIO * middle)
        ratio = prepared.frequency_hz[narrow] / prepared.frequency_hz[0]
        octave = np.floor(np.log2(ratio) + 1e-9)
        present = np.unique(octave)
        if present.size < FEWEST_OCTAVES:
            continue
        values = curves_of(column, own, prepared.columns)[:, narrow]
        with np.errstate(invalid="ignore", divide="ignore"):
            off = np.log(values / middle[narrow])
        medians = [np.median(off[:, octave == number], axis=1) for number in present]
        yield own, np.stack(medians, axis=1)


def curves_of(column: CurveColumn, rows: RowNumbers, columns: slice) -> FloatArray:
    """Return the judged points of some units in double precision."""
    return column.values[rows, columns].astype(np.float64)


def alike(offs: FloatArray) -> BoolArray:
    """Return which rows of shape (n, m) are off to one side, the least nearly as much as the most.

    As `judging.sensorguard.alike`; a value that is not there is NaN.
    """
    known = np.sum(~np.isnan(offs), axis=1)
    low: FloatArray = np.fmin.reduce(offs, axis=1)
    high: FloatArray = np.fmax.reduce(offs, axis=1)
    swapped = np.abs(low) > np.abs(high)
    least, most = np.where(swapped, high, low), np.where(swapped, low, high)
    found: BoolArray = (
        (known >= 2) & (least * most > 0.0) & (np.abs(least) >= LEAST_OVER_MOST * np.abs(most))
    )
    return found
