"""Runs of production and of reference units as watched: without curves, by the thousand."""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from station.judging.verdicts.verdict import Verdict
from station.records.chains.query import text_of
from station.records.chains.setapart import WATCHED
from station.records.columns.columns import Columns, RowNumbers
from station.records.log.log import RunLog
from station.records.log.production import LeftOut, left_out
from station.records.rows.values import float_of
from station.records.summaries.runlist import Period, span_of

RUNS = f"""SELECT seq, serial, model, revision, attempt, started_utc, verdict, numbers,
    limit_sha256, station_name, station_sha256, causes.reading, causes.side
FROM runs LEFT JOIN causes ON causes.run = runs.seq AND causes.position = 0
WHERE {WATCHED}
AND started_utc >= :since AND started_utc < :until AND (:model IS NULL OR model = :model)
ORDER BY seq"""  # noqa: S608 - our own words


@dataclass(frozen=True, slots=True)
class WatchedRun:
    """One run; `cause` is the reading that lies furthest outside, None for a pass."""

    seq: int
    serial: str
    model: str
    revision: str
    attempt: int
    started_utc: datetime
    verdict: Verdict
    cause: str | None
    side: str | None
    station: str
    limit_sha256: str
    station_sha256: str
    numbers: Mapping[str, tuple[float, str]]  # value and unit by reading

    def number(self, reading: str) -> float:
        """Return a number's value, NaN where the run has none."""
        return self.numbers[reading][0] if reading in self.numbers else math.nan

    def units(self) -> dict[str, str]:
        """Return the unit of every number."""
        return {name: unit for name, (_, unit) in self.numbers.items()}


class WatchLog:
    """What watching reads from the log of all runs."""

    def __init__(self, log: RunLog) -> None:
        self._log = log

    def runs(self, model: str | None, period: Period) -> tuple[WatchedRun, ...]:
        """Return the runs of production and of reference units in a period, oldest first."""
        span = {**span_of(period), "model": model}
        with self._log.reading() as connection:
            return tuple(watched(connection, span))

    def left_out(self, model: str | None, period: Period) -> LeftOut:
        """Return how many runs of the period are no production."""
        return left_out(self._log, model, period)

    def columns(self, model: str) -> tuple[RowNumbers, Columns]:
        """Return the numbers in the log of a model's runs, rising, and their readings."""
        return self._log.columns(model)

    def text(self, sha256: str) -> str:
        """Return a limit file's or station file's text."""
        with self._log.reading() as connection:
            return text_of(connection, sha256)


def watched(connection: sqlite3.Connection, span: dict[str, str | None]) -> Iterator[WatchedRun]:
    """Yield the runs that were found."""
    for row in connection.execute(RUNS, span):
        yield WatchedRun(
            row["seq"],
            row["serial"],
            row["model"],
            row["revision"],
            row["attempt"],
            datetime.fromisoformat(row["started_utc"]),
            Verdict(row["verdict"]),
            row["reading"],
            row["side"],
            row["station_name"],
            row["limit_sha256"],
            row["station_sha256"],
            {name: (float_of(of[0]), of[1]) for name, of in json.loads(row["numbers"]).items()},
        )
