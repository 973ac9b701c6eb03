"""The log as flat tables for other programs: one row per run, per number, per point of a curve."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from datetime import datetime

from station.records.chains.query import blob_of_grid
from station.records.log.log import RunLog
from station.records.rows.runs import curve_values, grid_of
from station.records.rows.values import float_of, utc_text

SPAN = """FROM runs WHERE started_utc >= :since AND started_utc < :until
AND (:model IS NULL OR model = :model) ORDER BY seq"""
RUN_COLUMNS = (
    "seq", "run_id", "serial", "model", "revision", "attempt", "simulated", "trial", "set_apart",
    "started_utc", "verdict", "next_step", "station_name", "temperature_c", "limit_name",
    "limit_sha256", "pattern_sha256", "recording_name", "hash",
)  # fmt: skip
NUMBER_COLUMNS = ("run_id", "reading", "value", "unit", "uncertainty", "margin")
CURVE_COLUMNS = ("run_id", "reading", "hz", "value", "unit")
INTEGERS = frozenset({"seq", "attempt", "simulated", "trial"})
REALS = frozenset({"temperature_c", "value", "uncertainty", "margin", "hz"})  # the rest is text
EXPORTED = {"runs": RUN_COLUMNS, "numbers": NUMBER_COLUMNS, "curves": CURVE_COLUMNS}

Cells = tuple[object, ...]


class ExportLog:
    """Rows of the log, one after another, as they are at the beginning of each table."""

    def __init__(
        self, log: RunLog, since_utc: datetime | None, until_utc: datetime | None, model: str | None
    ) -> None:
        self._log = log
        self._span = {
            "since": "" if since_utc is None else utc_text(since_utc),
            "until": "9999" if until_utc is None else utc_text(until_utc),
            "model": model,
        }

    def rows(self, table: str) -> Iterator[Cells]:
        """Yield the rows of a table, in the order of its columns."""
        makers = {"runs": run_cells, "numbers": number_cells, "curves": curve_cells}
        with self._log.reading() as connection:
            yield from makers[table](connection, self._span)


def run_cells(connection: sqlite3.Connection, span: dict[str, str | None]) -> Iterator[Cells]:
    """Yield every run."""
    for row in connection.execute(f"SELECT {', '.join(RUN_COLUMNS)} {SPAN}", span):
        yield tuple(row)


def number_cells(connection: sqlite3.Connection, span: dict[str, str | None]) -> Iterator[Cells]:
    """Yield every number; NaN where there is no value, uncertainty or margin."""
    for row in connection.execute(f"SELECT run_id, numbers, margins {SPAN}", span):
        margins = json.loads(row["margins"])
        for name, (value, unit, *uncertainty) in json.loads(row["numbers"]).items():
            yield (
                row["run_id"],
                name,
                float_of(value),
                unit,
                float_of(uncertainty[0] if uncertainty else None),
                float_of(margins[name][0] if name in margins else None),
            )


def curve_cells(connection: sqlite3.Connection, span: dict[str, str | None]) -> Iterator[Cells]:
    """Yield every point of every curve."""
    grids: dict[str, list[float]] = {}
    for run in connection.execute(f"SELECT seq, run_id {SPAN}", span):
        for curve in connection.execute(
            "SELECT * FROM curves WHERE run = ? ORDER BY position", (run["seq"],)
        ):
            key = curve["grid_sha256"]
            if key not in grids:
                grids[key] = grid_of(blob_of_grid(connection, key)).tolist()
            values = curve_values(curve["float32_values"]).tolist()
            for hz, value in zip(grids[key], values, strict=True):
                yield run["run_id"], curve["name"], hz, value, curve["unit"]
