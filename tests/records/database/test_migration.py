"""A log of an older version is brought up to date whole, or left as it was.

`version1.sql` is a log with two runs as version 1 of the schema stored them, dumped by SQLite.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from station.records.database.connection import connected, migrate
from station.records.database.schema import APPLICATION_ID, MIGRATIONS, VERSION_1
from station.records.kept.run import RecordingRef, SetApart
from station.records.log.log import RunLog
from tests.records.example import (
    SETUP,
    example_calibration,
    example_release,
    example_role_act,
    example_run,
)
from tests.records.same import same

DUMP = Path(__file__).with_name("version1.sql").read_text(encoding="utf-8")
# Neither calibrations, a population, a temperature, a decision rule, an operator nor what a run was
# made for were stored.
FIRST = example_run(
    setup=replace(SETUP, calibrations={}, pattern_text=None),
    temperature_c=None,
    operator=None,
    judgement=replace(example_run().judgement, decision=None),
)
# Every migration after the first, cut off after each of its statements.
HALFWAY = [(n, m) for n in range(1, len(MIGRATIONS)) for m in range(len(MIGRATIONS[n]))]
SECOND = replace(
    FIRST,
    run_id="20260103T081600-8",
    attempt=2,
    recording=RecordingRef("r.flac", "ab" * 32),
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a logs folder with a log of version 1."""
    with closing(sqlite3.connect(tmp_path / "station.db")) as connection:
        connection.executescript(DUMP)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute("PRAGMA user_version = 1")
    return tmp_path


def schema(connection: sqlite3.Connection) -> list[str]:
    """Return every statement that made the schema."""
    found = connection.execute("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL")
    return sorted(str(row[0]) for row in found)


def test_the_statements_of_version_one_are_those_that_made_the_old_log(folder: Path) -> None:
    with (
        closing(sqlite3.connect(folder / "station.db")) as old,
        closing(sqlite3.connect(":memory:")) as new,
    ):
        for statement in VERSION_1:
            new.execute(statement)
        assert schema(new) == schema(old)


def test_its_runs_are_read_as_they_were_stored_and_the_chain_holds(folder: Path) -> None:
    with RunLog.open(folder) as log:
        assert same(log.runs_of("T2A00123"), (FIRST, SECOND))
        assert log.chain_fault() is None


def test_it_takes_what_came_later_and_runs_that_name_it(folder: Path) -> None:
    newer = example_run(run_id="newer", trial=True)
    apart = tuple(example_run(run_id=one.value, set_apart=one) for one in SetApart)
    with RunLog.open(folder) as log:
        log.store_calibration(example_calibration())
        log.store_release(example_release())
        log.store_role_act(example_role_act())
        for run in (newer, *apart):
            log.store(run)
        assert same(log.runs_of("T2A00123"), (FIRST, SECOND, newer, *apart))
        assert same(log.calibrations(), (example_calibration(),))
        assert log.releases() == (example_release(),)
        assert log.role_acts() == (example_role_act(),)
        assert log.chain_fault() is None
        for table in ("calibrations", "releases", "role_acts"):
            with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                log._connection.execute(f"DELETE FROM {table}")


def test_old_and_new_logs_have_one_schema(folder: Path, tmp_path: Path) -> None:
    with RunLog.open(folder) as old, RunLog.open(tmp_path / "new") as new:
        assert schema(old._connection) == schema(new._connection)


@pytest.mark.parametrize(("version", "done"), HALFWAY)
def test_a_migration_that_fails_halfway_leaves_version_one(
    folder: Path, version: int, done: int
) -> None:
    path = folder / "station.db"
    broken = (*MIGRATIONS[version][:done], "INSERT INTO nowhere VALUES (1)")
    with closing(connected(path, 0.0)) as connection:
        before = list(connection.iterdump())
        with pytest.raises(sqlite3.OperationalError, match="no such table: nowhere"):
            migrate(connection, path, (*MIGRATIONS[:version], broken))
        assert list(connection.iterdump()) == before
        assert connection.execute("PRAGMA user_version").fetchone()[0] == 1
    with RunLog.open(folder) as log:  # and the next start mends it
        assert log.chain_fault() is None
        version = log._connection.execute("PRAGMA user_version").fetchone()[0]
        assert version == len(MIGRATIONS)
