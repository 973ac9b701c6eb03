"""What the log knows of a station's checks: its reference units' runs, and what came since."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from station.judging.verdicts.verdict import Verdict
from station.records.chains.query import with_children
from station.records.rows.runs import RunRows

NEWEST_CHECK = """SELECT seq, serial, verdict, started_utc FROM runs
WHERE station_name = ? AND trial IS NOT 1 AND serial IN ({marks}) ORDER BY seq DESC LIMIT 1"""
UNITS_SINCE = """SELECT serial, verdict, (
    SELECT reading FROM causes WHERE causes.run = runs.seq ORDER BY position LIMIT 1
) AS cause FROM runs
WHERE station_name = ? AND seq > ? AND trial IS NOT 1 AND serial NOT IN ({marks})
ORDER BY seq DESC"""
FIRST_AND_NEWEST_PASS = """SELECT * FROM runs WHERE seq IN (
    SELECT min(seq) FROM runs
    WHERE serial = :serial AND station_name = :station AND verdict = 'pass' AND trial IS NOT 1
    UNION ALL SELECT max(seq) FROM runs
    WHERE serial = :serial AND station_name = :station AND verdict = 'pass' AND trial IS NOT 1
) ORDER BY seq"""


@dataclass(frozen=True, slots=True)
class CheckRun:
    """The newest run of any reference unit."""

    serial: str
    verdict: Verdict
    started_utc: datetime


@dataclass(frozen=True, slots=True)
class SinceCheck:
    """What was tested after it: how many units, and the first causes of the newest, newest first.

    A cause is the name of a reading; None stands for a unit that passed. Units that are void say
    nothing and are left out.
    """

    units: int
    causes: tuple[str | None, ...]


def newest_check(
    connection: sqlite3.Connection, station: str, serials: Sequence[str]
) -> tuple[CheckRun, SinceCheck] | None:
    """Return the newest check of a station and what came since; None if there was none."""
    marks = ", ".join("?" * len(serials))
    row = connection.execute(NEWEST_CHECK.format(marks=marks), (station, *serials)).fetchone()
    if row is None:
        return None
    check = CheckRun(
        row["serial"], Verdict(row["verdict"]), datetime.fromisoformat(row["started_utc"])
    )
    units: dict[str, tuple[Verdict, str | None]] = {}
    for unit in connection.execute(
        UNITS_SINCE.format(marks=marks), (station, row["seq"], *serials)
    ):
        units.setdefault(unit["serial"], (Verdict(unit["verdict"]), unit["cause"]))
    causes = tuple(
        cause if verdict is Verdict.FAIL else None
        for verdict, cause in units.values()
        if verdict is not Verdict.VOID
    )
    return check, SinceCheck(len(units), causes)


def first_and_newest_pass(
    connection: sqlite3.Connection, station: str, serial: str
) -> tuple[RunRows, RunRows]:
    """Return a reference unit's first and newest passed run on a station; one may be both."""
    names = {"serial": serial, "station": station}
    found = connection.execute(FIRST_AND_NEWEST_PASS, names).fetchall()
    first, newest = dict(found[0]), dict(found[-1])
    return with_children(connection, first), with_children(connection, newest)
