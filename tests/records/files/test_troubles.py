"""Every trouble of disk and database is told with its remedy, and leaves nothing half-written."""

from __future__ import annotations

import errno
import os
import resource
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from station.analysis.readings import Curve
from station.errors import DamagedLogError, RecordsError
from station.records.files.troubles import records_errors
from station.records.kept.run import Run
from station.records.log.log import RunLog
from tests.records.example import FACTS, example_recording, example_run

ROOT = Path(__file__).parents[3]


@pytest.fixture
def log(tmp_path: Path) -> Iterator[RunLog]:
    """Return a log with one run, that waits for nobody."""
    with RunLog.open(tmp_path / "logs", busy_timeout_s=0.0) as log:
        log.store(example_run(run_id="first"))
        yield log


def big_run() -> Run:
    """Return a run that needs many pages of the database."""
    frequency_hz = np.linspace(1.0, 2.0, 100_000)
    run = example_run(run_id="big", serial="BIG")
    curves = {**run.readings.curves, "response": Curve(frequency_hz, frequency_hz, "dB")}
    return replace(run, readings=replace(run.readings, curves=curves))


def rows(log: RunLog) -> list[int]:
    """Return how many rows each table has."""
    return [
        log._connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
        for table in ("runs", "causes", "curves", "missing", "texts", "grids")
    ]


def test_a_full_disk_leaves_no_half_run(log: RunLog) -> None:
    before = rows(log)
    (pages,) = log._connection.execute("PRAGMA page_count").fetchone()
    log._connection.execute(f"PRAGMA max_page_count = {pages + 20}")
    with pytest.raises(RecordsError, match=r"disk is full.*Free some space"):
        log.store(big_run())
    assert rows(log) == before
    assert log.chain_fault() is None
    log._connection.execute("PRAGMA max_page_count = 1000000")
    log.store(big_run())
    assert len(log.runs_of("BIG")) == 1


LIMITED = """
import resource, sys
from dataclasses import replace
from pathlib import Path
from station.errors import DamagedLogError, RecordsError
from station.records.log.log import RunLog
from tests.records.example import FACTS, example_recording
from tests.records.files.test_troubles import big_run
with RunLog.open(Path(sys.argv[1])) as log:
    limit = int(sys.argv[2])
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
    for act in (
        lambda: log.store_recording(example_recording(), replace(FACTS, run_id="big")),
        lambda: log.store(big_run()),
    ):
        try:
            act()
        except RecordsError as error:
            print(error.happened)
"""


def test_a_disk_that_stops_in_the_middle_of_a_file_leaves_nothing(
    log: RunLog, tmp_path: Path
) -> None:
    before = rows(log)
    soft, _ = resource.getrlimit(resource.RLIMIT_FSIZE)
    limit_bytes = 40_000  # the recording has 43 kB, the run 1.2 MB: both stop on the way
    assert soft == resource.RLIM_INFINITY
    child = subprocess.run(
        [sys.executable, "-c", LIMITED, str(tmp_path / "logs"), str(limit_bytes)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=True,
    )
    recording_told, run_told = child.stdout.splitlines()
    assert "big.flac cannot be used: File too large" in recording_told
    assert "station.db" in run_told
    assert list((tmp_path / "logs" / "recordings").iterdir()) == []
    assert rows(log) == before
    assert log.chain_fault() is None
    log.store(big_run())


def test_a_second_station_that_writes_is_told_apart(log: RunLog, tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "logs" / "station.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(RecordsError, match=r"Another program holds.*Close the other"):
            log.store(example_run(run_id="second"))
        assert len(log.runs_of("T2A00123")) == 1  # reading goes on
        other.execute("ROLLBACK")
    log.store(example_run(run_id="second"))


def test_a_log_that_may_only_be_read_is_told(log: RunLog) -> None:
    log._connection.execute("PRAGMA query_only = ON")
    with pytest.raises(RecordsError, match=r"may only be read.*may write there"):
        log.store(example_run(run_id="second"))
    assert len(log.runs_of("T2A00123")) == 1


def test_an_entry_against_the_rules_of_the_log_is_told(log: RunLog) -> None:
    before = rows(log)
    with pytest.raises(RecordsError, match=r"refused the entry: CHECK.*attempt >= 1"):
        log.store(example_run(run_id="second", attempt=0))
    assert rows(log) == before


def test_a_file_where_a_folder_should_be_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    for folder in (tmp_path / "file", tmp_path / "file" / "logs"):
        with pytest.raises(RecordsError, match="part of its path is a file"):
            RunLog.open(folder)


def test_a_folder_where_the_database_should_be_is_told(tmp_path: Path) -> None:
    (tmp_path / "station.db").mkdir()
    with pytest.raises(RecordsError, match="cannot be opened"):
        RunLog.open(tmp_path)


def test_a_file_that_is_no_database_is_set_aside_and_kept(tmp_path: Path) -> None:
    contents = b"not a database, " * 1000
    (tmp_path / "station.db").write_bytes(contents)
    with RunLog.open(tmp_path) as log:
        log.store(example_run())
        assert "was set aside and a new log begun" in log.mended[0]
    assert (tmp_path / "set-aside" / "0001" / "station.db").read_bytes() == contents


def test_a_damaged_database_is_set_aside_at_the_start_and_its_loss_told(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        log.store(example_run())
        damage_runs(log, tmp_path)
    with RunLog.open(tmp_path) as log:
        assert "Lost: runs 1" in log.mended[0]
        assert log.runs_of("T2A00123") == ()
        assert log.chain_fault() is None


def test_a_database_damaged_in_the_midst_of_work_is_told_where_others_use_it(
    tmp_path: Path,
) -> None:
    with RunLog.open(tmp_path) as log:
        log.store(example_run())
    with RunLog.open(tmp_path) as log, RunLog.open(tmp_path):
        damage_runs(log, tmp_path)
        with pytest.raises(DamagedLogError, match=r"is damaged.*Delete nothing"):
            log.runs_of("T2A00123")


def damage_runs(log: RunLog, folder: Path) -> None:
    """Overwrite the page of the runs."""
    query = "SELECT rootpage FROM sqlite_schema WHERE name = 'runs'"
    (page,) = log._connection.execute(query).fetchone()
    (page_bytes,) = log._connection.execute("PRAGMA page_size").fetchone()
    log._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    with (folder / "station.db").open("r+b") as file:
        file.seek((page - 1) * page_bytes)
        file.write(b"\xa5" * page_bytes)
    log._connection.execute("PRAGMA shrink_memory")  # else it is read from memory


def test_a_text_taken_out_from_under_its_runs_is_told(log: RunLog) -> None:
    log._connection.execute("PRAGMA foreign_keys = OFF")
    log._connection.execute("DROP TRIGGER texts_no_delete")
    log._connection.execute("DELETE FROM texts")
    with pytest.raises(RecordsError, match="has lost the text"):
        log.runs_of("T2A00123")


def test_a_recordings_folder_that_is_gone_is_told(log: RunLog, tmp_path: Path) -> None:
    (tmp_path / "logs" / "recordings").rmdir()
    with pytest.raises(RecordsError, match="is not there"):
        log.store_recording(example_recording(), FACTS)


@pytest.mark.parametrize(
    ("code", "told"),
    [
        (errno.ENOSPC, "disk is full"),
        (errno.EDQUOT, "disk is full"),
        (errno.EROFS, "disk that may only be read"),
        (errno.EACCES, "may not be written"),
        (errno.EIO, "Input/output error"),
    ],
)
def test_what_the_operating_system_refuses_is_told_in_words(code: int, told: str) -> None:
    with pytest.raises(RecordsError, match=told) as caught, records_errors(Path("logs")):
        raise OSError(code, os.strerror(code))
    assert "logs" in caught.value.happened
    assert caught.value.remedy.endswith(".")
