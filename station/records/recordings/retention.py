"""Recordings that are let go by rule. Results never are: the run stays, and says what became of it.

The log's entry comes first and the file is deleted after it, so that none ever vanishes without
a word. A recording that is not what was stored is kept: it is evidence.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from station.judging.verdicts.verdict import Verdict
from station.records.kept.run import RecordingRef
from station.records.rows.values import utc_text

WORDS = {Verdict.PASS: "passes", Verdict.FAIL: "fails", Verdict.VOID: "voids"}

# The newest ones are counted among those that are still kept.
RULED = """SELECT recording_name, recording_sha256 FROM (
    SELECT recording_name, recording_sha256, started_utc, seq,
        row_number() OVER (ORDER BY seq DESC) AS place
    FROM runs WHERE recording_name IS NOT NULL
    AND verdict IN (SELECT value FROM json_each(:verdicts))
    AND recording_name NOT IN (SELECT name FROM upkeep WHERE kind = 'let go')
) WHERE place > :keep AND started_utc < :before_utc ORDER BY seq"""


@dataclass(frozen=True, slots=True)
class RetentionRule:
    """Which recordings may go: of these verdicts, older than so many days, but for the newest."""

    verdicts: frozenset[Verdict]
    older_than_days: float
    keep: int

    def __str__(self) -> str:
        words = " and ".join(WORDS[verdict] for verdict in Verdict if verdict in self.verdicts)
        but = f", but for the newest {self.keep}" if self.keep else ""
        return f"Recordings of {words} go after {self.older_than_days:g} days{but}."


def recordings_under(
    connection: sqlite3.Connection, rule: RetentionRule, now_utc: datetime
) -> Iterator[RecordingRef]:
    """Yield the recordings that a rule lets go and that are still kept, oldest first."""
    found = connection.execute(
        RULED,
        {
            "verdicts": json.dumps(sorted(verdict.value for verdict in rule.verdicts)),
            "keep": rule.keep,
            "before_utc": utc_text(now_utc - timedelta(days=rule.older_than_days)),
        },
    )
    return (RecordingRef(row["recording_name"], row["recording_sha256"]) for row in found)
