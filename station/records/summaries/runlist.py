"""Every run of a model's production in a few words each, read at once."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from station.judging.verdicts.verdict import Verdict
from station.records.chains.setapart import OF_PRODUCTION
from station.records.rows.values import utc_text

# A void of a recording that cannot be trusted has no margins, or names the room; one that lacks a
# reading says so. Only the latter can come out otherwise under other limits.
LISTED = f"""SELECT seq, run_id, serial, revision, attempt, started_utc, verdict, recording_name,
    recording_sha256, limit_sha256,
    CASE WHEN verdict = 'pass' THEN NULL ELSE
        (SELECT reading FROM causes WHERE run = seq AND position = 0) END AS cause,
    verdict = 'void' AND NOT EXISTS
        (SELECT 1 FROM causes WHERE run = seq AND side = 'missing')
        AND (margins = '{{}}' OR EXISTS
            (SELECT 1 FROM causes WHERE run = seq AND reading = 'room')) AS untrusted
FROM runs WHERE model = :model AND started_utc >= :since AND started_utc < :until
    AND {OF_PRODUCTION}
ORDER BY seq"""  # noqa: S608 - our own words
EVER = ("", "9999")  # before and after any time as text


class ListedRun(NamedTuple):
    """One run: who, when, how it ended. A tuple, because a log may hold a million."""

    seq: int
    run_id: str
    serial: str
    revision: str
    attempt: int
    started_utc: str  # ISO 8601 in UTC, which sorts by time
    verdict: Verdict
    recording_name: str | None
    recording_sha256: str | None
    limit_sha256: str  # of the text that judged it
    cause: str | None  # the reading that was furthest outside
    untrusted: bool  # its recording says nothing about the unit, whatever the limits


VERDICT_AT = ListedRun._fields.index("verdict")


@dataclass(frozen=True, slots=True)
class Period:
    """From an instant up to, not including, another; None is open."""

    since_utc: datetime | None = None
    until_utc: datetime | None = None


def listed_runs(connection: sqlite3.Connection, model: str, period: Period) -> Iterator[ListedRun]:
    """Yield the runs of a model's production that began in a period, oldest first."""
    found = connection.execute(LISTED, {"model": model, **span_of(period)})
    verdicts: dict[str, Verdict] = {verdict.value: verdict for verdict in Verdict}
    make: Callable[..., ListedRun] = ListedRun
    for row in found:
        *facts, cause, untrusted = row
        facts[VERDICT_AT] = verdicts[facts[VERDICT_AT]]
        yield make(*facts, cause, bool(untrusted))


def span_of(period: Period) -> dict[str, str]:
    """Return the ends of a period as the log writes instants, `since` and `until`."""
    first, last = EVER
    return {
        "since": first if period.since_utc is None else utc_text(period.since_utc),
        "until": last if period.until_utc is None else utc_text(period.until_utc),
    }


def models_with_runs(connection: sqlite3.Connection) -> tuple[str, ...]:
    """Return the models that the log has runs of, by name."""
    found = connection.execute("SELECT DISTINCT model FROM runs ORDER BY model")
    return tuple(row[0] for row in found)
