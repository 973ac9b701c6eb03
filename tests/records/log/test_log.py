"""What went into the log comes out of it, complete and in order."""

from __future__ import annotations

import json
import sqlite3
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.readings import Curve, Number, Readings
from station.errors import RecordingFileError, RecordsError
from station.judging.verdicts.verdict import AppliedBand, Cause, Judgement, Margin, Verdict
from station.records.kept.run import RecordingRef, Run, Setup
from station.records.log.log import RunLog
from station.records.recordings.recording_file import read_recording
from station.records.summaries.shift import LastUnit, ShiftCount
from tests.records.example import (
    FACTS,
    SETUP,
    STARTED,
    example_recording,
    example_run,
    with_verdict,
)
from tests.records.same import same


@pytest.fixture
def log(tmp_path: Path) -> Iterator[RunLog]:
    """Return an empty log."""
    with RunLog.open(tmp_path / "logs") as log:
        yield log


def database(folder: Path) -> sqlite3.Connection:
    """Return a connection as any other program would make it."""
    return sqlite3.connect(folder / "logs" / "station.db")


def test_a_run_comes_back_bit_for_bit_after_closing(tmp_path: Path) -> None:
    run = example_run(recording=RecordingRef("20260103T081500-7.flac", "ab" * 32))
    with RunLog.open(tmp_path / "logs") as log:
        log.store(run)
    with RunLog.open(tmp_path / "logs") as log:
        (read,) = log.runs_of("T2A00123")
    assert same(read, run)


def test_bands_are_not_kept_and_come_back_empty(log: RunLog) -> None:
    one = np.ones(1)
    band = AppliedBand(one, one, one, one, one, "dB")
    run = example_run()
    log.store(replace(run, judgement=replace(run.judgement, bands={"response": band})))
    assert same(log.runs_of(run.serial)[0], run)


def test_a_run_without_anything_comes_back(log: RunLog) -> None:
    run = example_run(
        readings=Readings(),
        judgement=Judgement(Verdict.VOID, (), "Test the unit again."),
        setup=Setup("", "", "", "", {}),
    )
    assert log.run_count() == 0
    log.store(run)
    assert same(log.runs_of(run.serial), (run,))


def test_runs_of_a_unit_come_oldest_first_and_no_others(log: RunLog) -> None:
    runs = [example_run(run_id=f"r{n}", attempt=n) for n in (1, 2, 3)]
    log.store(runs[0])
    log.store(example_run(run_id="other", serial="T2A00124"))
    log.store(runs[1])
    log.store(runs[2])
    assert same(log.runs_of("T2A00123"), tuple(runs))
    assert log.runs_of("T2A0012") == ()
    assert log.run_count() == 4


def test_a_local_time_is_kept_as_utc(log: RunLog) -> None:
    local = datetime(2026, 6, 1, 0, 30, tzinfo=timezone(timedelta(hours=2)))
    log.store(example_run(started_utc=local))
    (run,) = log.runs_of("T2A00123")
    assert run.started_utc == local
    assert run.started_utc.tzinfo is UTC


def test_a_time_without_zone_is_a_mistake_of_the_caller(log: RunLog) -> None:
    with pytest.raises(ValueError, match="no time zone"):
        log.store(example_run(started_utc=datetime(2026, 6, 1)))
    assert log.runs_of("T2A00123") == ()


def test_a_run_id_used_twice_is_a_mistake_of_the_caller(log: RunLog) -> None:
    log.store(example_run())
    with pytest.raises(ValueError, match="already has a run"):
        log.store(example_run(serial="T2A00124"))
    assert log.runs_of("T2A00124") == ()


finite = st.floats(allow_nan=False)
any_float = st.floats()
words = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
numbers = st.dictionaries(words, st.builds(Number, any_float, words), max_size=5)
places = st.none() | finite
margins = st.dictionaries(words, st.builds(Margin, any_float, words, places), max_size=3)
sides = st.sampled_from(["below", "above", "missing", "untrusted"])
cause = st.builds(Cause, words, sides, any_float, words, places, any_float, words, words)
versions = st.dictionaries(words, words, max_size=3)


@st.composite
def curves(draw: st.DrawFn) -> Curve:
    """Draw a curve on a grid of its own."""
    frequency_hz = sorted(draw(st.sets(st.floats(1.0, 1e5), max_size=6)))
    values = draw(
        st.lists(st.floats(width=32), min_size=len(frequency_hz), max_size=len(frequency_hz))
    )
    return Curve(np.array(frequency_hz), np.array(values, np.float64), draw(words))


runs = st.builds(
    Run,
    run_id=words,
    serial=words,
    model=words,
    revision=words,
    attempt=st.integers(1, 9),
    simulated=st.booleans(),
    started_utc=st.datetimes(timezones=st.just(UTC)),
    monotonic_s=finite,
    readings=st.builds(
        Readings,
        numbers,
        st.dictionaries(words, curves(), max_size=3),
        st.dictionaries(words, st.tuples(words, words), max_size=3),
    ),
    judgement=st.builds(
        Judgement, st.sampled_from(Verdict), st.lists(cause, max_size=3).map(tuple), words, margins
    ),
    setup=st.builds(Setup, words, words, words, words, versions),
    recording=st.none() | st.builds(RecordingRef, words, words),
)


@pytest.fixture(scope="module")
def shared_log(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunLog]:
    """Return a log that the drawn runs share."""
    with RunLog.open(tmp_path_factory.mktemp("shared")) as log:
        yield log


@settings(max_examples=60, deadline=None)
@given(run=runs)
def test_whatever_a_run_holds_comes_back(shared_log: RunLog, run: Run) -> None:
    (count,) = shared_log._connection.execute("SELECT count(*) FROM runs").fetchone()
    run = replace(run, run_id=f"{count} {run.run_id}")  # drawn ids repeat
    shared_log.store(run)
    read = shared_log.runs_of(run.serial)[-1]
    setup = replace(run.setup, versions=dict(sorted(run.setup.versions.items())))
    assert same(read, replace(run, setup=setup))
    assert shared_log.chain_fault() is None


def test_equal_texts_and_grids_are_kept_once(log: RunLog, tmp_path: Path) -> None:
    log.store(example_run(run_id="a"))
    log.store(example_run(run_id="b"))
    log.store(example_run(run_id="c", setup=replace(SETUP, limit_text="format = 1 # new\n")))
    with database(tmp_path) as other:
        counts = [
            other.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
            for table in ("texts", "grids", "runs", "curves")
        ]
    other.close()
    # limit text, its new issue, station text, versions, calibrations, population; both grids
    assert counts == [6, 2, 3, 9]


def test_numbers_can_be_asked_for_in_sql(log: RunLog, tmp_path: Path) -> None:
    log.store(example_run())
    other = database(tmp_path)
    query = """SELECT numbers ->> '$.sensitivity[0]', numbers ->> '$.impedance_min[1]',
        numbers ->> '$.fs[0]', margins ->> '$.response[2]' FROM runs"""
    assert other.execute(query).fetchone() == (87.123456789012345, "Ω", None, 1234.5)
    (text,) = other.execute("SELECT numbers FROM runs").fetchone()
    other.close()
    assert json.loads(text)["impedance_min"] == ["inf", "Ω"]


def test_the_shift_counts_units_by_their_last_verdict(log: RunLog) -> None:
    start = STARTED
    for minutes, (serial, verdict) in enumerate(
        [
            ("yesterday", Verdict.PASS),
            ("A", Verdict.FAIL),
            ("B", Verdict.PASS),
            ("C", Verdict.VOID),
            ("A", Verdict.VOID),
            ("A", Verdict.PASS),
            ("D", Verdict.FAIL),
        ]
    ):
        run = example_run(
            run_id=f"r{minutes}", serial=serial, started_utc=start + timedelta(minutes=minutes)
        )
        log.store(with_verdict(run, verdict))
    cause = "Too quiet at 1.2 kHz."
    assert log.shift_count(start + timedelta(minutes=1)) == ShiftCount(
        passed=2,
        failed=1,
        void=1,
        last=(
            LastUnit("D", "Tarn 2", Verdict.FAIL, cause),
            LastUnit("A", "Tarn 2", Verdict.PASS, ""),
            LastUnit("C", "Tarn 2", Verdict.VOID, cause),
            LastUnit("B", "Tarn 2", Verdict.PASS, ""),
        ),
    )
    assert log.shift_count(start + timedelta(hours=1)) == ShiftCount(0, 0, 0, ())


def test_a_recording_is_kept_under_the_run_id(log: RunLog, tmp_path: Path) -> None:
    recording = example_recording()
    ref = log.store_recording(recording, FACTS)
    assert ref.name == "20260103T081500-7.flac"
    assert log.path_of(ref) == tmp_path / "logs" / "recordings" / ref.name
    assert same(read_recording(log.path_of(ref)), (recording, FACTS))
    assert log.recording_unchanged(ref)


def test_a_changed_or_lost_recording_is_noticed(log: RunLog) -> None:
    ref = log.store_recording(example_recording(), FACTS)
    path = log.path_of(ref)
    path.write_bytes(path.read_bytes() + b"\0")
    assert not log.recording_unchanged(ref)
    path.unlink()
    with pytest.raises(RecordingFileError, match="There is no recording"):
        log.recording_unchanged(ref)


@pytest.mark.parametrize("run_id", [None, "", "../escape", "a/b", ".hidden", "x" * 300])
def test_a_run_id_that_names_no_file_is_a_mistake_of_the_caller(
    log: RunLog, run_id: str | None
) -> None:
    with pytest.raises(ValueError, match="cannot name a file"):
        log.store_recording(example_recording(), replace(FACTS, run_id=run_id))


def test_a_reference_cannot_leave_the_recordings_folder(log: RunLog) -> None:
    with pytest.raises(ValueError, match="not the name of a recording"):
        log.path_of(RecordingRef("../station.db", "ab" * 32))


def test_one_log_serves_several_threads(log: RunLog) -> None:
    together = threading.Barrier(4)

    def store(thread: int) -> None:
        together.wait()
        for n in range(12):
            log.store(example_run(run_id=f"t{thread}-{n}", serial=f"thread {thread}"))

    def look() -> list[int]:
        together.wait()
        return [len(log.shift_count(STARTED).last) for _ in range(40)]

    with ThreadPoolExecutor(4) as pool:
        stores = [pool.submit(store, thread) for thread in range(3)]
        looks = pool.submit(look)
        for future in stores:
            future.result()
        seen = looks.result()
    assert seen == sorted(seen)
    assert log.chain_fault() is None
    for thread in range(3):
        stored = [run.run_id for run in log.runs_of(f"thread {thread}")]
        assert stored == [f"t{thread}-{n}" for n in range(12)]


def test_two_logs_on_one_folder_keep_one_chain(log: RunLog, tmp_path: Path) -> None:
    with RunLog.open(tmp_path / "logs") as other:
        for n in range(6):
            (log if n % 2 else other).store(example_run(run_id=f"r{n}"))
        assert len(other.runs_of("T2A00123")) == len(log.runs_of("T2A00123")) == 6
    assert log.chain_fault() is None


def test_two_processes_that_write_at_once_wait_for_each_other(log: RunLog, tmp_path: Path) -> None:
    # Two logs share no lock of Python's, so to the database they are two processes.
    together = threading.Barrier(2)

    def store(own: RunLog, name: str) -> None:
        together.wait()
        for n in range(25):
            own.store(example_run(run_id=f"{name}{n}"))

    with RunLog.open(tmp_path / "logs") as other, ThreadPoolExecutor(2) as pool:
        for future in [pool.submit(store, log, "a"), pool.submit(store, other, "b")]:
            future.result()
    assert len(log.runs_of("T2A00123")) == 50
    assert log.chain_fault() is None


def test_a_zero_with_a_sign_does_not_break_the_chain(log: RunLog) -> None:
    run = example_run(monotonic_s=-0.0)
    causes = (replace(run.judgement.causes[0], margin=-0.0, severity=-0.0),)
    log.store(replace(run, judgement=replace(run.judgement, causes=causes)))
    assert log.chain_fault() is None


def test_a_closed_log_says_so(tmp_path: Path) -> None:
    log = RunLog.open(tmp_path / "logs")
    log.close()
    with pytest.raises(RecordsError, match="closed"):
        log.store(example_run())


def test_a_run_without_a_decision_rule_is_stored_without_one(log: RunLog) -> None:
    run = example_run(judgement=replace(example_run().judgement, decision=None))
    log.store(run)
    assert same(log.runs_of(run.serial), (run,))
    assert log.chain_fault() is None
