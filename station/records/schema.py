"""The tables of the log, and why nothing in them can change.

A run is one row of `runs` with its causes, curves and missing readings as child rows. Children
go in first, their foreign keys deferred, and the run's row last: once it is there, a trigger
refuses further children. Longer texts (limit file, station file, versions) and frequency grids
are kept once per different content, under their SHA-256.

Triggers refuse every UPDATE and DELETE. INSERT OR REPLACE deletes without a word unless the
connection has recursive_triggers on, so further triggers refuse to insert what exists; they hold
for any program that opens the file. Only dropping a trigger goes round them, and then the chain
of hashes (see `chain`) shows what was changed.
"""

from __future__ import annotations

APPLICATION_ID = 0x53544C47  # marks the file as a log of this software

FIRST_PREVIOUS_HASH = "0" * 64

TABLES = (
    """CREATE TABLE texts (
        sha256 TEXT PRIMARY KEY,
        text TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE grids (
        sha256 TEXT PRIMARY KEY,
        frequency_hz BLOB NOT NULL
    ) STRICT""",
    """CREATE TABLE runs (
        seq INTEGER PRIMARY KEY,
        run_id TEXT NOT NULL UNIQUE,
        serial TEXT NOT NULL,
        model TEXT NOT NULL,
        revision TEXT NOT NULL,
        attempt INTEGER NOT NULL CHECK (attempt >= 1),
        simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
        started_utc TEXT NOT NULL,
        monotonic_s REAL NOT NULL,
        verdict TEXT NOT NULL CHECK (verdict IN ('pass', 'fail', 'void')),
        next_step TEXT NOT NULL,
        numbers TEXT NOT NULL CHECK (json_valid(numbers)),
        margins TEXT NOT NULL CHECK (json_valid(margins)),
        limit_name TEXT NOT NULL,
        limit_sha256 TEXT NOT NULL REFERENCES texts,
        station_name TEXT NOT NULL,
        station_sha256 TEXT NOT NULL REFERENCES texts,
        versions_sha256 TEXT NOT NULL REFERENCES texts,
        recording_name TEXT,
        recording_sha256 TEXT,
        previous_hash TEXT NOT NULL,
        hash TEXT NOT NULL,
        CHECK ((recording_name IS NULL) = (recording_sha256 IS NULL))
    ) STRICT""",
    """CREATE TABLE causes (
        run INTEGER NOT NULL REFERENCES runs DEFERRABLE INITIALLY DEFERRED,
        position INTEGER NOT NULL,
        reading TEXT NOT NULL,
        side TEXT NOT NULL,
        margin REAL,
        unit TEXT NOT NULL,
        at_hz REAL,
        severity REAL,
        happened TEXT NOT NULL,
        advice TEXT NOT NULL,
        PRIMARY KEY (run, position)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE curves (
        run INTEGER NOT NULL REFERENCES runs DEFERRABLE INITIALLY DEFERRED,
        position INTEGER NOT NULL,
        name TEXT NOT NULL,
        unit TEXT NOT NULL,
        grid_sha256 TEXT NOT NULL REFERENCES grids,
        float32_values BLOB NOT NULL,
        PRIMARY KEY (run, position)
    ) STRICT""",
    """CREATE TABLE missing (
        run INTEGER NOT NULL REFERENCES runs DEFERRABLE INITIALLY DEFERRED,
        position INTEGER NOT NULL,
        name TEXT NOT NULL,
        happened TEXT NOT NULL,
        remedy TEXT NOT NULL,
        PRIMARY KEY (run, position)
    ) STRICT, WITHOUT ROWID""",
    "CREATE INDEX runs_by_serial ON runs (serial)",
    "CREATE INDEX runs_by_time ON runs (started_utc)",
)

CHILD_TABLES = ("causes", "curves", "missing")
SHARED_TABLES = ("texts", "grids")


def never_changed(table: str) -> tuple[str, ...]:
    """Return the triggers that refuse to change or delete a row."""
    return tuple(
        f"""CREATE TRIGGER {table}_no_{action.lower()} BEFORE {action} ON {table}
        BEGIN SELECT RAISE(ABORT, 'the log is append-only: no {action} in {table}'); END"""
        for action in ("UPDATE", "DELETE")
    )


def never_replaced(table: str) -> str:
    """Return the trigger that refuses to insert a text or grid that exists."""
    return f"""CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table}
        WHEN EXISTS (SELECT 1 FROM {table} WHERE sha256 = NEW.sha256)
        BEGIN SELECT RAISE(ABORT, 'the log is append-only: it has this row of {table}'); END"""  # noqa: S608 - our table names


def never_late(table: str) -> str:
    """Return the trigger that refuses a child row of a run that is closed."""
    return f"""CREATE TRIGGER {table}_never_late BEFORE INSERT ON {table}
        WHEN EXISTS (SELECT 1 FROM runs WHERE seq = NEW.run)
        BEGIN SELECT RAISE(ABORT, 'the log is append-only: the run of {table} is closed'); END"""  # noqa: S608 - our table names


RUNS_FOLLOW = (
    """CREATE TRIGGER runs_no_replace BEFORE INSERT ON runs
        WHEN EXISTS (SELECT 1 FROM runs WHERE seq = NEW.seq OR run_id = NEW.run_id)
        BEGIN SELECT RAISE(ABORT, 'the log is append-only: it has this run'); END""",
    # The 64 zeros of FIRST_PREVIOUS_HASH are written here as the hex of 32 zero bytes.
    """CREATE TRIGGER runs_follow BEFORE INSERT ON runs
        WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM runs)
        OR NEW.previous_hash IS NOT coalesce(
            (SELECT hash FROM runs ORDER BY seq DESC LIMIT 1), hex(zeroblob(32)))
        BEGIN SELECT RAISE(ABORT, 'the log is append-only: a run must follow the last one'); END""",
)

VERSION_1 = (
    *TABLES,
    *(sql for table in ("runs", *SHARED_TABLES, *CHILD_TABLES) for sql in never_changed(table)),
    *(never_replaced(table) for table in SHARED_TABLES),
    *(never_late(table) for table in CHILD_TABLES),
    *RUNS_FOLLOW,
)

# Element n brings a database of schema version n to version n + 1.
MIGRATIONS: tuple[tuple[str, ...], ...] = (VERSION_1,)
