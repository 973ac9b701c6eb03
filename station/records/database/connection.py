"""The connection to the log's database: its settings, its transactions, its schema version."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

from station.errors import RecordsError
from station.records.database.schema import APPLICATION_ID, MIGRATIONS

SETTINGS = (
    "PRAGMA synchronous = FULL",  # in WAL mode anything less may lose the last commits
    "PRAGMA foreign_keys = ON",
    "PRAGMA recursive_triggers = ON",  # else INSERT OR REPLACE deletes past the triggers
)


def connected(path: Path, busy_timeout_s: float) -> sqlite3.Connection:
    """Return a connection set up for the log; the caller keeps other threads out by a lock."""
    connection = sqlite3.connect(
        path, timeout=busy_timeout_s, isolation_level=None, check_same_thread=False
    )
    try:
        connection.row_factory = sqlite3.Row
        schema_version(connection, path, len(MIGRATIONS))  # before anything is changed in it
        (mode,) = connection.execute("PRAGMA journal_mode = WAL").fetchone()
        if mode != "wal":
            raise RecordsError(
                f"{path} is on a disk that cannot keep a log safely (journal mode {mode}).",
                "Put the logs folder on a local disk.",
            )
        for setting in SETTINGS:
            connection.execute(setting)
    except BaseException:
        connection.close()
        raise
    return connection


def read_only(path: Path) -> sqlite3.Connection:
    """Return a connection that changes nothing, not even by writing the newest pages back.

    The last connection that may write does that when it is closed, over pages that a damaged
    database may have nowhere else.
    """
    connection = sqlite3.connect(
        f"file:{quote(str(path.resolve()))}?mode=ro",
        uri=True,
        isolation_level=None,
        check_same_thread=False,  # another thread may interrupt it
    )
    connection.row_factory = sqlite3.Row
    return connection


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """Write all or nothing, alone; durable when the block has ended."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


@contextmanager
def snapshot(connection: sqlite3.Connection) -> Iterator[None]:
    """Read one state of the log, whatever is written meanwhile."""
    connection.execute("BEGIN DEFERRED")
    try:
        yield
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def migrate(
    connection: sqlite3.Connection,
    path: Path,
    migrations: tuple[tuple[str, ...], ...] = MIGRATIONS,
) -> None:
    """Bring a new or older database to the newest schema, all or nothing; refuse any other.

    Raises
    ------
    RecordsError
        If the schema is newer than this software, or the database is something else.
    """
    if schema_version(connection, path, len(migrations)) == len(migrations):
        return  # without a write, so that a log may be read while another station writes
    with transaction(connection):
        version = schema_version(connection, path, len(migrations))
        for statements in migrations[version:]:
            for statement in statements:
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(migrations)}")


def schema_version(connection: sqlite3.Connection, path: Path, newest: int) -> int:
    """Return the schema version, 0 for an empty database; refuse what is no log of ours."""
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    (application_id,) = connection.execute("PRAGMA application_id").fetchone()
    (objects,) = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    if objects == 0 and version == 0:
        return 0
    if application_id != APPLICATION_ID:
        raise RecordsError(
            f"{path} is a database of another program.", "Choose another logs folder."
        )
    if version > newest:
        raise RecordsError(
            f"{path} was written by a newer version of this software (schema {version}).",
            "Bring this software up to date.",
        )
    return int(version)
