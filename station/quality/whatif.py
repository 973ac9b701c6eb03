"""What limits would say of many units at once: the same verdicts as judging them one by one."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from station.judging.planning import reference_of_table
from station.judging.signaltonoise import needed_by
from station.judging.tables import BandTable, LimitFile, NumberTable
from station.judging.verdict import Verdict
from station.quality.whatifbands import (
    Violations,
    applied_band,
    joined,
    prepared_band,
    rows_finite,
)
from station.quality.whatifnoise import drowned_numbers, noise_beside, noise_heard
from station.records.columns import BoolArray, Columns, RowNumbers

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
    """Return the verdict on every unit, as `judging.judge` would say of trusted recordings."""
    wanted: list[BandTable | NumberTable] = [*limits.bands, *limits.numbers]
    return verdicts_of(units.count, tuple(applied_limit(units, limit, limits) for limit in wanted))


def applied_limit(
    units: Columns, limit: BandTable | NumberTable, limits: LimitFile
) -> AppliedLimit:
    """Return one limit applied to every unit."""
    if isinstance(limit, BandTable):
        return applied_to_curves(units, limit, limits)
    return applied_to_numbers(units, limit, limits)


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
    lower = -np.inf if limit.lower is None else limit.lower
    upper = np.inf if limit.upper is None else limit.upper
    margin = np.minimum(values - lower, upper - values)
    failing = (margin < 0.0) & ~drowned[rows]
    missed = np.flatnonzero(absent & heard)
    violations = Violations(
        np.concatenate((rows[failing], missed)),
        np.concatenate((-margin[failing], np.full(missed.size, np.nan))),
        np.full(int(failing.sum()) + missed.size, np.nan),
        np.concatenate((values[failing] < lower, np.ones(missed.size, dtype=np.bool_))),
    )
    unread = ~((readable | absent) & heard)
    return AppliedLimit(limit.reading, limit.scale, unread, drowned, ((limit.reading, violations),))


def verdicts_of(count: int, limits: tuple[AppliedLimit, ...]) -> ManyVerdicts:
    """Return verdicts from limits that are applied already."""
    unread = np.zeros(count, dtype=np.bool_)
    drowned = np.zeros(count, dtype=np.bool_)
    severity = np.full(count, -np.inf)
    first = np.full(count, -1, dtype=np.int16)
    names: list[str] = []
    for limit in limits:
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
    failed = codes == FAIL
    first = np.where(failed, first, np.int16(-1))
    return ManyVerdicts(codes, tuple(names), first, np.where(failed, severity, np.nan), limits)


def severities(found: Violations, scale: float) -> NDArray[np.float64]:
    """Return how far outside units are in multiples of a limit's own scale."""
    return np.where(np.isnan(found.depth), ABSENT_SEVERITY, found.depth / scale)


def kept_void(verdicts: ManyVerdicts, untrusted: BoolArray) -> ManyVerdicts:
    """Return verdicts in which recordings that cannot be trusted stay void."""
    codes = np.where(untrusted, np.int8(VOID), verdicts.codes)
    failed = codes == FAIL
    return replace(
        verdicts,
        codes=codes,
        first_cause=np.where(failed, verdicts.first_cause, np.int16(-1)),
        severity=np.where(failed, verdicts.severity, np.nan),
    )


def rows_failing(limit: AppliedLimit) -> RowNumbers:
    """Return which units one limit fails, each once."""
    return np.unique(np.concatenate([found.rows for _, found in limit.causes]))
