"""A draft under the hand of the engineer: every change is tried on all chosen units at once.

Only the limit that changes is applied again; what the others say of the units stays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from station.judging.tables.tables import BandTable, LimitFile, NumberTable
from station.judging.verdicts.verdict import Verdict
from station.quality.drafts.text import (
    Change,
    Changes,
    changed_text,
    number_toml,
    points_toml,
)
from station.quality.judged.manyunits import (
    FAIL,
    PASS,
    VERDICTS,
    VOID,
    AppliedLimit,
    Codes,
    ManyVerdicts,
    applied_limit,
    applied_limits,
    as_the_line,
    tables_of,
    verdicts_of,
)
from station.quality.judged.units import StoredUnits
from station.records.columns.columns import RowNumbers


@dataclass(frozen=True, slots=True)
class Counts:
    """How units end, and how many end otherwise than before."""

    passed: int
    failed: int
    void: int
    newly_failing: int
    newly_passing: int
    newly_void: int


@dataclass(frozen=True, slots=True, eq=False)
class Draft:
    """Limits, and what they say of the chosen units; `changed` are the limits that were changed."""

    units: StoredUnits
    limits: LimitFile
    applied: tuple[AppliedLimit, ...]
    verdicts: ManyVerdicts
    before: Codes
    changed: frozenset[int] = frozenset()

    def with_limit(self, place: int, table: BandTable | NumberTable) -> Draft:
        """Return the draft with one limit in another form, tried on all units."""
        limits = with_table(self.limits, place, table)
        applied = list(self.applied)
        applied[place] = applied_limit(self.units.readings, table, limits)
        return replace(
            self,
            limits=limits,
            applied=tuple(applied),
            verdicts=line_verdicts(self.units, limits, tuple(applied)),
            changed=self.changed | {place},
        )

    @property
    def counts(self) -> Counts:
        """How the units end, and how many otherwise than before."""
        codes, before = self.verdicts.codes, self.before
        newly = codes != before
        return Counts(
            *(int(np.sum(codes == code)) for code in (PASS, FAIL, VOID)),
            *(int(np.sum(newly & (codes == code))) for code in (FAIL, PASS, VOID)),
        )

    @property
    def rows_worth_a_look(self) -> RowNumbers:
        """The units that flip, then those that fail, the furthest outside first in each."""
        codes = self.verdicts.codes
        flipped, failed = codes != self.before, codes == FAIL
        depth = np.nan_to_num(self.verdicts.severity, nan=0.0)
        rows = np.flatnonzero(flipped | failed)
        order = np.lexsort((-depth[rows], ~(flipped & failed)[rows], ~flipped[rows]))
        return rows[order]


def opened_draft(units: StoredUnits, limits: LimitFile) -> Draft:
    """Return a draft that nobody has changed yet."""
    applied = applied_limits(units.readings, limits)
    codes = {verdict: code for code, verdict in enumerate(VERDICTS)}
    before = np.array([codes[run.verdict] for run in units.runs], dtype=np.int8)
    return Draft(units, limits, applied, line_verdicts(units, limits, applied), before)


def line_verdicts(
    units: StoredUnits, limits: LimitFile, applied: tuple[AppliedLimit, ...]
) -> ManyVerdicts:
    """Return verdicts as the line would give them."""
    verdicts = verdicts_of(units.readings, limits, applied)
    return as_the_line(units.readings, limits, verdicts, units.untrusted)


def with_table(limits: LimitFile, place: int, table: BandTable | NumberTable) -> LimitFile:
    """Return limits with one of them in another form; `place` counts bands first, then numbers."""
    tables = list(tables_of(limits))
    tables[place] = table
    return limits.model_copy(
        update={
            "bands": tuple(each for each in tables if isinstance(each, BandTable)),
            "numbers": tuple(each for each in tables if isinstance(each, NumberTable)),
        }
    )


def draft_text(text: str, draft: Draft, day: date) -> str:
    """Return the text of the limit file at hand with the limits that were changed."""
    tables = tables_of(draft.limits)
    bands = len(draft.limits.bands)
    comment = (f"# changed by hand on {day}, tried on {len(draft.units.runs)} runs",)
    entries = {
        ("bands", place) if place < bands else ("numbers", place - bands): Change(
            values_of(tables[place]), comment
        )
        for place in sorted(draft.changed)
    }
    return changed_text(text, Changes(entries=entries))


def values_of(table: BandTable | NumberTable) -> Mapping[str, str]:
    """Return what can be changed of a limit, as TOML."""
    if isinstance(table, BandTable):
        return {"points": points_toml(table.points)}
    ends = {"lower": table.lower, "upper": table.upper}
    return {name: number_toml(value) for name, value in ends.items() if value is not None}


def verdict_before(draft: Draft, row: int) -> Verdict:
    """Return how a unit ended when it was tested."""
    return VERDICTS[draft.before[row]]
