"""How a shift goes: its units by their last verdict."""

from __future__ import annotations

import sqlite3
from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from station.judging.verdicts.verdict import Verdict
from station.records.chains.setapart import OF_PRODUCTION
from station.records.rows.values import utc_text

UNITS_NEWEST_FIRST = f"""SELECT serial, model, verdict, (
    SELECT happened FROM causes WHERE causes.run = runs.seq ORDER BY position LIMIT 1
) AS cause FROM runs WHERE started_utc >= ? AND {OF_PRODUCTION} ORDER BY seq DESC"""  # noqa: S608 - our own words


@dataclass(frozen=True, slots=True)
class LastUnit:
    """A unit with its last verdict; `cause` is the first cause's sentence, empty for a pass."""

    serial: str
    model: str
    verdict: Verdict
    cause: str


@dataclass(frozen=True, slots=True)
class ShiftCount:
    """Units by their last verdict, and all of them in `last`, newest first."""

    passed: int
    failed: int
    void: int
    last: tuple[LastUnit, ...]


def shift_count(connection: sqlite3.Connection, since_utc: datetime) -> ShiftCount:
    """Return the units that production tested since an instant; each counts by its last run."""
    units: dict[str, LastUnit] = {}
    for row in connection.execute(UNITS_NEWEST_FIRST, (utc_text(since_utc),)):
        unit = LastUnit(row["serial"], row["model"], Verdict(row["verdict"]), row["cause"] or "")
        units.setdefault(unit.serial, unit)
    count = Counter(unit.verdict for unit in units.values())
    return ShiftCount(
        count[Verdict.PASS], count[Verdict.FAIL], count[Verdict.VOID], tuple(units.values())
    )
