"""A log of another version or another program is recognised before anything is touched."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from station.errors import RecordsError
from station.records.chains.tips import read_tips, write_tips
from station.records.database.connection import connected, migrate
from station.records.database.schema import MIGRATIONS
from station.records.files.places import TIPS_NAME
from station.records.log.log import RunLog
from tests.records.example import example_run

NEWEST = len(MIGRATIONS)
NEXT = (*MIGRATIONS, ("ALTER TABLE runs ADD COLUMN humidity_ratio REAL",))
BROKEN = (*MIGRATIONS, ("CREATE TABLE half (a TEXT) STRICT", "CREATE TABLE half (a TEXT) STRICT"))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return the database of a log with one run."""
    with RunLog.open(tmp_path) as log:
        log.store(example_run())
    return tmp_path / "station.db"


def test_a_new_log_is_of_the_newest_schema(path: Path) -> None:
    with closing(sqlite3.connect(path)) as other:
        assert other.execute("PRAGMA user_version").fetchone() == (NEWEST,)


def test_a_newer_log_is_refused_and_left_alone(path: Path) -> None:
    with closing(sqlite3.connect(path)) as other:
        other.execute(f"PRAGMA user_version = {NEWEST + 1}")
    noted = read_tips(path.with_name(TIPS_NAME))
    assert noted is not None
    write_tips(path.with_name(TIPS_NAME), replace(noted, schema=NEWEST + 1))  # as that version does
    before = path.read_bytes()
    with pytest.raises(RecordsError, match=rf"newer version .*\(schema {NEWEST + 1}\)"):
        RunLog.open(path.parent)
    assert path.read_bytes() == before


def test_a_database_of_another_program_is_refused_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE songs (title TEXT)")
    before = path.read_bytes()
    with pytest.raises(RecordsError, match="another program"):
        RunLog.open(tmp_path)
    assert path.read_bytes() == before


def test_an_older_log_is_brought_up_to_date_and_its_chain_holds(path: Path) -> None:
    with closing(connected(path, 0.0)) as connection:
        migrate(connection, path, NEXT)
        assert connection.execute("SELECT run_id, humidity_ratio FROM runs").fetchone()[:] == (
            "20260103T081500-7",
            None,
        )
        assert connection.execute("PRAGMA user_version").fetchone()[0] == NEWEST + 1
        # back to the version before, whose code must still find the chain whole
        connection.execute(f"PRAGMA user_version = {NEWEST}")
    with RunLog.open(path.parent) as log:
        assert log.chain_fault() is None


@pytest.mark.parametrize("first", [(), MIGRATIONS], ids=["new", "old"])
def test_a_migration_that_fails_halfway_changes_nothing(
    tmp_path: Path, first: tuple[tuple[str, ...], ...]
) -> None:
    path = tmp_path / "station.db"
    with closing(connected(path, 0.0)) as connection:
        if first:
            migrate(connection, path, first)
        before = connection.execute("SELECT sql FROM sqlite_schema").fetchall()
        version = connection.execute("PRAGMA user_version").fetchone()
        with pytest.raises(sqlite3.OperationalError, match="half already exists"):
            migrate(connection, path, BROKEN)
        assert connection.execute("SELECT sql FROM sqlite_schema").fetchall() == before
        assert connection.execute("PRAGMA user_version").fetchone() == version
        migrate(connection, path, NEXT)
        assert connection.execute("PRAGMA user_version").fetchone()[0] == NEWEST + 1


def test_a_log_that_cannot_be_made_safe_is_refused() -> None:
    # A database in memory has no journal on a disk, so it answers "memory" instead of "wal".
    with pytest.raises(RecordsError, match="cannot keep a log safely"):
        connected(Path(":memory:"), 0.0)
