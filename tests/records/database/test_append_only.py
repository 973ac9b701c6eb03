"""Nothing in the log changes: neither through our connection nor through any other."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from station.records.chains.chainedrows import CHAINED_TABLES, ChainedTable
from station.records.chains.losses import Loss, append_losses
from station.records.kept.run import RecordingRef
from station.records.log.gauges import GaugeLog
from station.records.log.log import RunLog
from station.records.log.services import ServiceLog
from tests.records.example import (
    SETUP,
    example_calibration,
    example_gauge_entry,
    example_gauge_plan,
    example_imported,
    example_release,
    example_role_act,
    example_run,
    example_service,
    example_step,
    example_upkeep,
)

CHILD_TABLES = ("causes", "curves", "missing")
# Every chained table is held to the same: who adds one adds three rows of it to the log below.
LINKS = (ChainedTable("runs", "run_id", "run", ()), *CHAINED_TABLES)
ALL_TABLES = (*(link.name for link in LINKS), *CHILD_TABLES, "texts", "grids")
every_link = pytest.mark.parametrize("link", LINKS, ids=lambda link: str(link.name))


@pytest.fixture
def log(tmp_path: Path) -> Iterator[RunLog]:
    """Return a log of three entries in every chain."""
    with RunLog.open(tmp_path) as log:
        for n in range(3):
            setup = replace(SETUP, limit_text=f"# issue {n}\n")
            recording = RecordingRef(f"r{n}.flac", f"{n:064x}")
            log.store(example_run(run_id=f"r{n}", setup=setup, recording=recording))
            log.store_calibration(example_calibration(calibration_id=f"c{n}"))
            log.store_upkeep(example_upkeep(name=f"r{n}.flac"))
            with log.writing() as connection:
                append_losses(connection, "upkeep-1", [Loss("runs", n + 7, n + 7, f"{n:064x}")])
            services = ServiceLog(log)
            services.open_service(example_service(service_id=f"s{n}"))
            services.add_step(example_step(step_id=f"t{n}", service_id=f"s{n}"))
            services.import_record(example_imported(record_id=f"i{n}", contents=f"# {n}"))
            log.store_release(example_release(release_id=f"x{n}"))
            log.store_role_act(example_role_act(act_id=f"a{n}"))
            gauges = GaugeLog(log)
            gauges.open_study(example_gauge_plan(study_id=f"g{n}"))
            gauges.add_entry(example_gauge_entry(study_id=f"g{n}", run_id=f"r{n}"))
        yield log


@pytest.fixture(params=["ours", "careless"])
def connection(
    request: pytest.FixtureRequest, log: RunLog, tmp_path: Path
) -> Iterator[sqlite3.Connection]:
    """Return the log's own connection, and one of a program that sets no PRAGMA at all."""
    if request.param == "ours":
        yield log._connection
        return
    other = sqlite3.connect(tmp_path / "station.db", isolation_level=None)
    yield other
    other.close()


def contents(connection: sqlite3.Connection) -> list[list[tuple[object, ...]]]:
    """Return every row of every table."""
    return [
        [tuple(row) for row in connection.execute(f"SELECT * FROM {table}")] for table in ALL_TABLES
    ]


@pytest.mark.parametrize("table", ALL_TABLES)
def test_update_and_delete_are_refused(connection: sqlite3.Connection, table: str) -> None:
    before = contents(connection)
    (column,) = connection.execute(
        f"SELECT name FROM pragma_table_info('{table}') LIMIT 1"
    ).fetchone()
    for statement in (
        f"UPDATE {table} SET {column} = {column}",
        f"UPDATE OR REPLACE {table} SET {column} = {column}",
        f"DELETE FROM {table}",
    ):
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            connection.execute(statement)
    assert contents(connection) == before


@pytest.mark.parametrize("table", ALL_TABLES)
@pytest.mark.parametrize("verb", ["INSERT OR REPLACE", "REPLACE", "INSERT OR IGNORE", "INSERT"])
def test_a_row_cannot_be_replaced(connection: sqlite3.Connection, table: str, verb: str) -> None:
    before = contents(connection)
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        connection.execute(f"{verb} INTO {table} SELECT * FROM {table} LIMIT 1")
    assert contents(connection) == before


@every_link
def test_a_link_cannot_be_replaced_through_its_id(
    connection: sqlite3.Connection, link: ChainedTable
) -> None:
    table, one = link.name, link.one
    before = contents(connection)
    columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
    changed = ", ".join({"seq": "4", "previous_hash": "hash"}.get(name, name) for name in columns)
    with pytest.raises(sqlite3.IntegrityError, match=f"append-only: it has this {one}"):
        connection.execute(
            f"INSERT OR REPLACE INTO {table} SELECT {changed} FROM {table} WHERE seq = 3"
        )
    assert contents(connection) == before


@pytest.mark.parametrize("table", CHILD_TABLES)
def test_a_closed_run_takes_no_more_rows(connection: sqlite3.Connection, table: str) -> None:
    before = contents(connection)
    columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
    late = ", ".join("99" if name == "position" else name for name in columns)
    with pytest.raises(sqlite3.IntegrityError, match="is closed"):
        connection.execute(f"INSERT INTO {table} SELECT {late} FROM {table} LIMIT 1")
    assert contents(connection) == before


@pytest.mark.parametrize("table", CHILD_TABLES)
def test_rows_of_no_run_are_refused_at_the_end_of_the_transaction(log: RunLog, table: str) -> None:
    connection = log._connection
    before = contents(connection)
    columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
    early = ", ".join("4" if name == "run" else name for name in columns)
    connection.execute("BEGIN")
    connection.execute(f"INSERT INTO {table} SELECT {early} FROM {table} WHERE run = 3")
    with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
        connection.execute("COMMIT")
    connection.execute("ROLLBACK")
    assert contents(connection) == before


@pytest.mark.parametrize(
    ("seq", "previous_hash"), [("3 + 2", "hash"), ("-1", "hash"), ("3 + 1", "previous_hash")]
)
@every_link
def test_a_link_must_follow_the_last_one(
    connection: sqlite3.Connection, link: ChainedTable, seq: str, previous_hash: str
) -> None:
    table, one = link.name, link.one
    columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
    given = {"seq": seq, link.key: "'new'", "previous_hash": previous_hash}
    values = ", ".join(given.get(name, name) for name in columns)
    with pytest.raises(sqlite3.IntegrityError, match=f"a {one} must follow"):
        connection.execute(f"INSERT INTO {table} SELECT {values} FROM {table} WHERE seq = 3")


def test_the_connection_has_the_settings_durability_needs(log: RunLog) -> None:
    def pragma(name: str) -> object:
        return log._connection.execute(f"PRAGMA {name}").fetchone()[0]

    # https://sqlite.org/pragma.html: synchronous 2 is FULL
    assert pragma("journal_mode") == "wal"
    assert pragma("synchronous") == 2
    assert pragma("foreign_keys") == 1
    assert pragma("recursive_triggers") == 1
    assert pragma("busy_timeout") == 5000
    assert log._connection.execute("PRAGMA quick_check").fetchone()[0] == "ok"
    tables = log._connection.execute("PRAGMA table_list").fetchall()
    assert all(row["strict"] for row in tables if row["name"] in ALL_TABLES)


def test_an_untouched_log_has_no_fault(log: RunLog) -> None:
    assert log.chain_fault() is None


@pytest.mark.parametrize(
    ("tampering", "seq", "told"),
    [
        ("UPDATE runs SET verdict = 'pass' WHERE seq = 2", 2, "changed"),
        ("UPDATE runs SET recording_sha256 = hex(zeroblob(32)) WHERE seq = 2", 2, "changed"),
        ("UPDATE runs SET recording_name = NULL, recording_sha256 = NULL", 1, "changed"),
        ("UPDATE runs SET monotonic_s = monotonic_s + 0.001 WHERE seq = 3", 3, "changed"),
        ("UPDATE runs SET numbers = replace(numbers, '87', '88') WHERE seq = 1", 1, "changed"),
        ("UPDATE causes SET margin = -2.0 WHERE run = 2 AND position = 0", 2, "changed"),
        ("DELETE FROM causes WHERE run = 3", 3, "changed"),
        ("DELETE FROM missing WHERE run = 1", 1, "changed"),
        ("DELETE FROM curves WHERE run = 2 AND name = 'thd'", 2, "changed"),
        (
            "UPDATE curves SET float32_values = zeroblob(length(float32_values)) WHERE run = 3",
            3,
            "changed",
        ),
        ("DELETE FROM runs WHERE seq = 2", 3, "number 2 is gone"),
        ("DELETE FROM runs WHERE seq = 1", 2, "number 1 is gone"),
        ("UPDATE texts SET text = text || ' ' WHERE text LIKE '# issue 1%'", 2, "limit_sha256"),
        ("DELETE FROM texts WHERE text LIKE '# issue 2%'", 3, "limit_sha256"),
        ("DELETE FROM texts WHERE text LIKE '%calibration_id%'", 1, "calibrations_sha256"),
        ("UPDATE runs SET temperature_c = 25.0 WHERE seq = 2", 2, "changed"),
        ("UPDATE runs SET trial = NULL WHERE seq = 2", 2, "changed"),
        ("UPDATE runs SET operator = 'J. Moor' WHERE seq = 3", 3, "changed"),
        ("UPDATE grids SET frequency_hz = zeroblob(8)", 1, "frequencies"),
        ("DELETE FROM grids", 1, "frequencies"),
    ],
)
def test_the_chain_shows_what_was_changed_with_the_triggers_gone(
    log: RunLog, tmp_path: Path, tampering: str, seq: int, told: str
) -> None:
    other = sqlite3.connect(tmp_path / "station.db", isolation_level=None)
    for (name,) in other.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'"):
        other.execute(f"DROP TRIGGER {name}")
    assert other.execute(tampering).rowcount > 0
    other.close()
    fault = log.chain_fault()
    assert fault is not None
    assert fault.seq == seq
    assert fault.entry_id == f"r{seq - 1}"
    assert told in fault.happened


@pytest.mark.parametrize(
    ("tampering", "told"),
    [
        (
            "UPDATE calibrations SET full_scale = 63.5 WHERE seq = 2",
            "calibration number 2 (c1): The calibration was changed after it was written.",
        ),
        (
            "UPDATE calibrations SET verdict = 'refused' WHERE seq = 3",
            "calibration number 3 (c2): The calibration was changed after it was written.",
        ),
        (
            "DELETE FROM calibrations WHERE seq = 1",
            "calibration number 2 (c1): Calibration number 1 is gone.",
        ),
        (
            "UPDATE calibrations SET previous_hash = hash WHERE seq = 1",
            "calibration number 1 (c0): It does not follow the calibration before it.",
        ),
        (
            "UPDATE services SET complaint = 'none' WHERE seq = 2",
            "service number 2 (s1): The service was changed after it was written.",
        ),
        (
            "UPDATE service_steps SET part = 'C3' WHERE seq = 1",
            "service step number 1 (t0): The service step was changed after it was written.",
        ),
        (
            "UPDATE texts SET text = '# 5' WHERE text = '# 1'",
            "imported record number 2 (i1): The text behind its contents_sha256 was changed or "
            "is gone.",
        ),
        (
            "UPDATE releases SET holds_from = NULL WHERE seq = 2",
            "release number 2 (x1): The release was changed after it was written.",
        ),
        (
            "UPDATE texts SET text = text || ' ' WHERE text LIKE '%revision B%'",
            "release number 1 (x0): The text behind its limit_sha256 was changed or is gone.",
        ),
        (
            'UPDATE role_acts SET details = \'{"role":"engineer"}\' WHERE seq = 3',
            "role act number 3 (a2): The role act was changed after it was written.",
        ),
        (
            "DELETE FROM role_acts WHERE seq = 2",
            "role act number 3 (a2): Role act number 2 is gone.",
        ),
    ],
)
def test_the_chains_show_a_changed_entry(
    log: RunLog, tmp_path: Path, tampering: str, told: str
) -> None:
    other = sqlite3.connect(tmp_path / "station.db", isolation_level=None)
    for (name,) in other.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'"):
        other.execute(f"DROP TRIGGER {name}")
    assert other.execute(tampering).rowcount == 1
    other.close()
    assert str(log.chain_fault()) == told


def test_a_run_rewritten_with_a_fitting_hash_breaks_the_next_one(
    log: RunLog, tmp_path: Path
) -> None:
    other = sqlite3.connect(tmp_path / "station.db", isolation_level=None)
    other.execute("DROP TRIGGER runs_no_update")
    with RunLog.open(tmp_path / "forged") as forged:
        first = example_run(run_id="r0", setup=replace(SETUP, limit_text="# issue 0\n"))
        forged.store(
            replace(first, serial="FORGED", recording=RecordingRef("r0.flac", f"{0:064x}"))
        )
        (new_hash,) = forged._connection.execute("SELECT hash FROM runs").fetchone()
    other.execute("UPDATE runs SET serial = 'FORGED', hash = ? WHERE seq = 1", (new_hash,))
    other.close()
    fault = log.chain_fault()
    assert fault is not None
    assert str(fault) == "run number 2 (r1): It does not follow the run before it."
