"""What limits would say of many units at once: the same verdicts as judging them one by one."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from station.analysis.arrays import FloatArray
from station.judging.files.planning import reference_of_table
from station.judging.tables.acceptance import accepted_limits
from station.judging.tables.tables import BandTable, LimitFile, NumberTable
from station.judging.verdicts.signaltonoise import needed_by
from station.judging.verdicts.verdict import Verdict
from station.quality.judged.bands import (
    Violations,
    applied_band,
    joined,
    prepared_band,
    rows_finite,
)
from station.quality.judged.noise import drowned_numbers, noise_beside, noise_heard
from station.quality.judged.second import mistaken_rows, sensors_rows
from station.records.columns.columns import BoolArray, Columns, NumberColumn, RowNumbers

PASS, FAIL, VOID = 0, 1, 2
VERDICTS = (Verdict.PASS, Verdict.FAIL, Verdict.VOID)
ABSENT_SEVERITY = 1.0

Codes = NDArray[np.int8]


@dataclass(frozen=True, slots=True, eq=False)
class AppliedLimit:
    """One limit applied to all units.

    `unread` marks units that lack what the limit judges, `drowned` those in which noise leaves
    nothing to say about it. `causes` are its violations by the name the judge gives them.
    """

    reading: str
    scale: float
    unread: BoolArray
    drowned: BoolArray
    causes: tuple[tuple[str, Violations], ...]


@dataclass(frozen=True, slots=True, eq=False)
class ManyVerdicts:
    """Verdicts on all units; the codes index VERDICTS, `first_cause` indexes `cause_names`.

    `first_cause` is -1 but for a fail, `severity` NaN.
    """

    codes: Codes
    cause_names: tuple[str, ...]
    first_cause: NDArray[np.int16]
    severity: NDArray[np.float64]
    limits: tuple[AppliedLimit, ...]


def judged_units(units: Columns, limits: LimitFile) -> ManyVerdicts:
    """Return the verdict on every unit, as the judge would say of trusted recordings."""
    return verdicts_of(units, limits, applied_limits(units, limits))


def applied_limits(units: Columns, limits: LimitFile) -> tuple[AppliedLimit, ...]:
    """Return every limit of a file applied to every unit."""
    return tuple(applied_limit(units, limit, limits) for limit in tables_of(limits))


def tables_of(limits: LimitFile) -> tuple[BandTable | NumberTable, ...]:
    """Return all limits of a file in the order in which they are applied."""
    return (*limits.bands, *limits.numbers)


def applied_limit(
    units: Columns, limit: BandTable | NumberTable, limits: LimitFile
) -> AppliedLimit:
    """Return one limit applied to every unit, moved inside where a decision rule says so."""
    only = limits.model_copy(
        update={"bands": (limit,), "numbers": ()}
        if isinstance(limit, BandTable)
        else {"bands": (), "numbers": (limit,)}
    )
    (accepted,) = tables_of(accepted_limits(only, {}))
    if isinstance(accepted, BandTable):
        return applied_to_curves(units, accepted, limits)
    return applied_to_numbers(units, accepted, limits)


def applied_to_curves(units: Columns, band: BandTable, limits: LimitFile) -> AppliedLimit:
    """Return a band applied to the curves of every unit, grid by grid."""
    unread = np.ones(units.count, dtype=np.bool_)
    drowned = np.zeros(units.count, dtype=np.bool_)
    shapes, levels = [], []
    reference = reference_of_table(limits.reference) if limits.reference else None
    needed = needed_by(band.reading, limits.readings)
    heard = noise_heard(units, band, limits)
    for column in units.curves.get(band.reading, ()):
        prepared = prepared_band(column, band, reference, limits.readings.response.for_v)
        if prepared is None:
            continue
        noise = None if needed is None else noise_beside(units, needed, column)
        if needed is not None and noise is None:
            continue
        readable = rows_finite(column, prepared) & heard
        unread &= ~readable
        margin_db = 0.0 if needed is None else needed.margin_db
        found = applied_band(column, prepared, np.flatnonzero(readable), noise, margin_db)
        shapes.append(found.shape)
        levels.append(found.level)
        drowned[found.drowned] = True
    causes = [(band.reading, joined(shapes))]
    if band.offset_db is not None:
        causes.append((f"{band.reading}.offset", joined(levels)))
    return AppliedLimit(band.reading, band.scale, unread, drowned, tuple(causes))


def applied_to_numbers(units: Columns, limit: NumberTable, limits: LimitFile) -> AppliedLimit:
    """Return the limits of a number applied to every unit."""
    drowned = np.zeros(units.count, dtype=np.bool_)
    column = units.numbers.get(limit.reading)
    if column is None:
        nothing = joined([])
        everybody = np.ones(units.count, dtype=np.bool_)
        return AppliedLimit(
            limit.reading, limit.scale, everybody, drowned, ((limit.reading, nothing),)
        )
    absent = column.missing & (limit.absent == "fail")
    readable = column.there & np.isfinite(column.values) & ~absent
    heard = noise_heard(units, limit, limits)
    rows = np.flatnonzero(readable & heard)
    drowned[rows] = drowned_numbers(units, limit, limits, rows)
    values = column.values[rows]
    guard = guards_of_runs(column, limit, limits)
    guarded = guard[rows]
    lower = (-np.inf if limit.lower is None else limit.lower) + guarded
    upper = (np.inf if limit.upper is None else limit.upper) - guarded
    margin = np.minimum(values - lower, upper - values)
    failing = (margin < 0.0) & ~drowned[rows]
    missed = np.flatnonzero(absent & heard)
    violations = Violations(
        np.concatenate((rows[failing], missed)),
        np.concatenate((-margin[failing], np.full(missed.size, np.nan))),
        np.full(int(failing.sum()) + missed.size, np.nan),
        np.concatenate(((values < lower)[failing], np.ones(missed.size, dtype=np.bool_))),
    )
    unread = ~((readable | absent) & heard) | undecidable(column, limit, limits, guard)
    return AppliedLimit(limit.reading, limit.scale, unread, drowned, ((limit.reading, violations),))


def guards_of_runs(column: NumberColumn, limit: NumberTable, limits: LimitFile) -> FloatArray:
    """Return by how much each run's own uncertainty moves the limits of a number inside."""
    if limits.decision is None or not takes_own_uncertainty(limit, limits):
        return np.zeros(column.values.size)
    guard = limits.decision.guard_factor * column.uncertainties
    return np.where(np.isfinite(guard), guard, 0.0)


def undecidable(
    column: NumberColumn, limit: NumberTable, limits: LimitFile, guard: FloatArray
) -> BoolArray:
    """Return which runs' own uncertainty lets nobody decide about a number."""
    if not takes_own_uncertainty(limit, limits):
        return np.zeros(column.values.size, dtype=np.bool_)
    crossed = np.zeros(column.values.size, dtype=np.bool_)
    if limit.lower is not None and limit.upper is not None:
        crossed = limit.lower + guard >= limit.upper - guard
    return column.there & (~np.isfinite(column.uncertainties) | crossed)


def takes_own_uncertainty(limit: NumberTable, limits: LimitFile) -> bool:
    """Return whether a number's guard band follows from what each recording states."""
    tables = () if limits.decision is None else limits.decision.uncertainties
    return any(table.of_run and table.reading == limit.reading for table in tables)


def verdicts_of(
    units: Columns, limits: LimitFile, applied: tuple[AppliedLimit, ...]
) -> ManyVerdicts:
    """Return verdicts from limits that are applied already."""
    count = units.count
    unread = np.zeros(count, dtype=np.bool_)
    drowned = np.zeros(count, dtype=np.bool_)
    severity = np.full(count, -np.inf)
    first = np.full(count, -1, dtype=np.int16)
    names: list[str] = []
    for limit in applied:
        unread |= limit.unread
        drowned |= limit.drowned
        for name, found in limit.causes:
            names.append(name)
            each = severities(found, limit.scale)
            worse = each > severity[found.rows]  # of equals the first in the file is named first
            severity[found.rows[worse]] = each[worse]
            first[found.rows[worse]] = len(names) - 1
    codes = np.where(first >= 0, FAIL, np.where(drowned, VOID, PASS)).astype(np.int8)
    codes[unread] = VOID
    codes[mistaken_rows(units, limits, applied, codes == FAIL)] = VOID
    return of_codes(ManyVerdicts(codes, tuple(names), first, severity, applied), codes)


def of_codes(verdicts: ManyVerdicts, codes: Codes) -> ManyVerdicts:
    """Return verdicts with other codes; only a fail has a cause."""
    failed = codes == FAIL
    return replace(
        verdicts,
        codes=codes,
        first_cause=np.where(failed, verdicts.first_cause, np.int16(-1)),
        severity=np.where(failed, verdicts.severity, np.nan),
    )


def as_the_line(
    units: Columns, limits: LimitFile, verdicts: ManyVerdicts, untrusted: BoolArray
) -> ManyVerdicts:
    """Return verdicts as the line gives them: void where a sensor or the recording is to blame."""
    accepted = accepted_limits(limits, {})
    sensors = sensors_rows(units, accepted, verdicts.limits, verdicts.codes == FAIL)
    return of_codes(verdicts, np.where(sensors | untrusted, np.int8(VOID), verdicts.codes))


def severities(found: Violations, scale: float) -> NDArray[np.float64]:
    """Return how far outside units are in multiples of a limit's own scale."""
    return np.where(np.isnan(found.depth), ABSENT_SEVERITY, found.depth / scale)


def rows_failing(limit: AppliedLimit) -> RowNumbers:
    """Return which units one limit fails, each once."""
    return np.unique(np.concatenate([found.rows for _, found in limit.causes]))
