"""Rows out of the log, and a new run's rows into it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from datetime import datetime

from station.errors import RecordsError
from station.records.chains.losses import known_to_be_lost
from station.records.chains.setapart import OF_PRODUCTION
from station.records.files.troubles import DAMAGED
from station.records.rows.runs import RunRows, in_order
from station.records.rows.values import Row

INSERT_RUN = """INSERT INTO runs (
    seq, run_id, serial, model, revision, attempt, simulated, started_utc, monotonic_s, verdict,
    next_step, numbers, margins, decision, limit_name, limit_sha256, station_name, station_sha256,
    versions_sha256, calibrations_sha256, pattern_sha256, temperature_c, recording_name,
    recording_sha256, trial, operator, badge, set_apart, previous_hash, hash
) VALUES (
    :seq, :run_id, :serial, :model, :revision, :attempt, :simulated, :started_utc, :monotonic_s,
    :verdict, :next_step, :numbers, :margins, :decision, :limit_name, :limit_sha256,
    :station_name, :station_sha256, :versions_sha256, :calibrations_sha256, :pattern_sha256,
    :temperature_c, :recording_name, :recording_sha256, :trial, :operator, :badge, :set_apart,
    :previous_hash, :hash
)"""
INSERT_CAUSE = """INSERT INTO causes (
    run, position, reading, side, margin, unit, at_hz, severity, happened, advice
) VALUES (
    :run, :position, :reading, :side, :margin, :unit, :at_hz, :severity, :happened, :advice
)"""
INSERT_CURVE = """INSERT INTO curves (run, position, name, unit, grid_sha256, float32_values)
VALUES (:run, :position, :name, :unit, :grid_sha256, :float32_values)"""
INSERT_MISSING = """INSERT INTO missing (run, position, name, happened, remedy)
VALUES (:run, :position, :name, :happened, :remedy)"""
NEWEST_OF_UNITS = f"""SELECT * FROM runs WHERE seq IN
    (SELECT MAX(seq) FROM runs WHERE model = ? AND revision = ? AND {OF_PRODUCTION} GROUP BY serial)
ORDER BY seq"""  # noqa: S608 - our own words

# A text or grid is inserted only where it is not there yet: the triggers refuse it twice.
INSERT_TEXT = """INSERT INTO texts (sha256, text) SELECT :sha256, :text
WHERE NOT EXISTS (SELECT 1 FROM texts WHERE sha256 = :sha256)"""
INSERT_GRID = """INSERT INTO grids (sha256, frequency_hz) SELECT :sha256, :frequency_hz
WHERE NOT EXISTS (SELECT 1 FROM grids WHERE sha256 = :sha256)"""


def has_run(connection: sqlite3.Connection, run_id: str) -> bool:
    """Return whether the log has a run of this id."""
    found = connection.execute("SELECT 1 FROM runs WHERE run_id = ?", (run_id,)).fetchone()
    return found is not None


def insert_shared(
    connection: sqlite3.Connection, texts: dict[str, str], grids: dict[str, bytes]
) -> None:
    """Write the texts and grids that are not there yet."""
    for key, text in texts.items():
        connection.execute(INSERT_TEXT, {"sha256": key, "text": text})
    for key, blob in grids.items():
        connection.execute(INSERT_GRID, {"sha256": key, "frequency_hz": blob})


def insert_run(connection: sqlite3.Connection, rows: RunRows, run_hash: str) -> None:
    """Write a run, children first: its own row closes it."""
    connection.executemany(INSERT_CAUSE, rows.causes)
    connection.executemany(INSERT_CURVE, rows.curves)
    connection.executemany(INSERT_MISSING, rows.missing)
    connection.execute(INSERT_RUN, {**rows.run, "hash": run_hash})


def run_rows_of_serial(connection: sqlite3.Connection, serial: str) -> Iterator[RunRows]:
    """Yield the runs of one unit, oldest first."""
    found = connection.execute("SELECT * FROM runs WHERE serial = ? ORDER BY seq", (serial,))
    return (with_children(connection, dict(row)) for row in found)


def newest_run_rows(connection: sqlite3.Connection, model: str, revision: str) -> Iterator[RunRows]:
    """Yield the newest run in production of each unit of a model revision, as they were tested."""
    found = connection.execute(
        NEWEST_OF_UNITS,
        (model, revision),
    )
    return (with_children(connection, dict(row)) for row in found)


def newest_run_utc(connection: sqlite3.Connection) -> datetime | None:
    """Return when the newest run began, None if there is none."""
    row = connection.execute("SELECT started_utc FROM runs ORDER BY seq DESC LIMIT 1").fetchone()
    return None if row is None else datetime.fromisoformat(row["started_utc"])


def all_run_rows(connection: sqlite3.Connection) -> Iterator[RunRows]:
    """Yield every run, oldest first."""
    found = connection.execute("SELECT * FROM runs ORDER BY seq")
    return (with_children(connection, dict(row)) for row in found)


def newest_rows_of_runs(connection: sqlite3.Connection, count: int) -> Iterator[RunRows]:
    """Yield the newest runs, the newest first."""
    found = connection.execute("SELECT * FROM runs ORDER BY seq DESC LIMIT ?", (count,))
    return (with_children(connection, dict(row)) for row in found)


def with_children(connection: sqlite3.Connection, run: Row) -> RunRows:
    """Return a run's row with its child rows."""
    key = (run["seq"],)
    return RunRows(
        run,
        in_order(connection.execute("SELECT * FROM causes WHERE run = ? ORDER BY position", key)),
        in_order(connection.execute("SELECT * FROM curves WHERE run = ? ORDER BY position", key)),
        in_order(connection.execute("SELECT * FROM missing WHERE run = ? ORDER BY position", key)),
    )


def text_of(connection: sqlite3.Connection, key: str) -> str:
    """Return a text by its SHA-256, an empty one if it is known to be lost."""
    row = connection.execute("SELECT text FROM texts WHERE sha256 = ?", (key,)).fetchone()
    if row is not None:
        return str(row["text"])
    if known_to_be_lost(connection, key):
        return ""
    raise lost("text", key)


def blob_of_grid(connection: sqlite3.Connection, key: str) -> bytes:
    """Return a frequency grid by its SHA-256, an empty one if it is known to be lost."""
    row = connection.execute("SELECT frequency_hz FROM grids WHERE sha256 = ?", (key,)).fetchone()
    if row is not None:
        return bytes(row["frequency_hz"])
    if known_to_be_lost(connection, key):
        return b""
    raise lost("frequency grid", key)


def all_texts(connection: sqlite3.Connection) -> Iterator[tuple[str, str]]:
    """Yield every text after its SHA-256."""
    return (tuple(row) for row in connection.execute("SELECT sha256, text FROM texts"))


def all_grids(connection: sqlite3.Connection) -> Iterator[tuple[str, bytes]]:
    """Yield every frequency grid after its SHA-256."""
    return (tuple(row) for row in connection.execute("SELECT sha256, frequency_hz FROM grids"))


def lost(what: str, key: str) -> RecordsError:
    """Return the trouble of a row that somebody took out from under its runs."""
    return RecordsError(f"The log has lost the {what} {key[:12]} that a run refers to.", DAMAGED)
