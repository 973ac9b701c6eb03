"""The copy by column holds what the log holds, grows with it, and is made anew when it is not."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from station.analysis.readings import Curve
from station.judging.verdicts.verdict import Verdict
from station.records.columns import batch as columnbatch
from station.records.columns.columns import Columns
from station.records.columns.store import FOLDER_NAME
from station.records.kept.run import Run
from station.records.log.log import RunLog
from station.records.summaries.runlist import Period
from tests.quality.manyunits import drawn_readings
from tests.records.example import STARTED, example_run, with_verdict
from tests.records.same import same


def odd_runs(count: int, seed: int = 1) -> list[Run]:
    """Return runs of two models that lack this and that."""
    rng = np.random.default_rng(seed)
    return [
        replace(
            example_run(),
            run_id=f"r{seed}-{number}",
            serial=f"T2A{number:05d}",
            model="Scree 12" if number % 3 == 0 else "Tarn 2",
            started_utc=STARTED + timedelta(minutes=number),
            readings=drawn_readings(rng, 0.5),
        )
        for number in range(count)
    ]


@pytest.fixture(autouse=True)
def small_batches(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(columnbatch, "ROWS", 4)


@pytest.fixture
def log(tmp_path: Path) -> Iterator[RunLog]:
    with RunLog.open(tmp_path) as opened:
        yield opened


def check_holds(log: RunLog, runs: list[Run]) -> Columns:
    wanted = [run for run in runs if run.model == "Tarn 2"]
    seq, columns = log.columns("Tarn 2")
    assert list(seq) == [1 + runs.index(run) for run in wanted]
    assert columns.count == len(wanted)
    for row, run in enumerate(wanted):
        found = columns.readings(row)
        for name, number in run.readings.numbers.items():
            assert same(found.numbers[name], number)
        assert found.numbers.keys() == run.readings.numbers.keys()
        assert found.missing.keys() == run.readings.missing.keys()
        assert found.curves.keys() == run.readings.curves.keys()
        for name, curve in run.readings.curves.items():
            assert np.array_equal(found.curves[name].values, curve.values, equal_nan=True)
            assert np.array_equal(found.curves[name].frequency_hz, curve.frequency_hz)
            assert found.curves[name].unit == curve.unit
    return columns


def test_columns_hold_the_log_and_grow_with_it(log: RunLog) -> None:
    runs = odd_runs(22)
    for run in runs[:13]:
        log.store(run)
    check_holds(log, runs[:13])
    for run in runs[13:]:
        log.store(run)
    check_holds(log, runs)


def test_a_reading_that_comes_later_gets_a_column_of_its_own(log: RunLog) -> None:
    runs = [run for run in odd_runs(18) if run.model == "Tarn 2"]
    grid = np.geomspace(20.0, 200.0, 9)
    for run in runs[6:]:
        run.readings.curves["rub"] = Curve(grid, np.arange(9.0), "dB")  # type: ignore[index]
    for count in (6, len(runs)):
        for run in runs[log.run_count() : count]:
            log.store(run)
        columns = check_holds(log, runs[:count])
    assert list(columns.curves["rub"][0].there) == [False] * 6 + [True] * (len(runs) - 6)


def test_a_curve_on_another_grid_stands_beside_the_first(log: RunLog) -> None:
    first, second = (run for run in odd_runs(3)[1:])
    fine = Curve(np.geomspace(100.0, 1000.0, 5), np.arange(5.0), "dB")
    runs = [replace(first, readings=replace(first.readings, curves={"thd": fine})), second]
    for run in runs:
        log.store(run)
    columns = check_holds(log, runs)
    assert [grid.frequency_hz.size for grid in columns.curves["thd"]] == [5, 11]


@pytest.mark.parametrize("harm", ["cut off", "garbled", "gone", "another log"])
def test_a_copy_that_is_not_the_logs_is_made_anew(log: RunLog, tmp_path: Path, harm: str) -> None:
    runs = odd_runs(10)
    for run in runs:
        log.store(run)
    check_holds(log, runs)
    (folder,) = (tmp_path / FOLDER_NAME).iterdir()
    (generation,) = (path for path in folder.iterdir() if path.is_dir())
    if harm == "cut off":  # a writer died after the columns and before the index
        with (generation / "seq.i8").open("ab") as file:
            file.write(b"\x01" * 11)
    elif harm == "garbled":
        (folder / "index.json").write_text("{}")
    elif harm == "gone":
        shutil.rmtree(generation)
    else:
        text = (folder / "index.json").read_text()
        hash_of_last = text.split('"last_hash": "')[1][:64]
        (folder / "index.json").write_text(text.replace(hash_of_last, "0" * 64))
    more = odd_runs(4, seed=2)
    for run in more:
        log.store(run)
    check_holds(log, runs + more)


def test_what_was_read_stays_readable_when_the_copy_is_made_anew(
    log: RunLog, tmp_path: Path
) -> None:
    runs = odd_runs(10)
    for run in runs:
        log.store(run)
    before = check_holds(log, runs)
    kept = before.curves["thd"][0].values.copy()
    (folder,) = (tmp_path / FOLDER_NAME).iterdir()
    (folder / "index.json").unlink()
    log.columns("Tarn 2")
    assert np.array_equal(before.curves["thd"][0].values, kept, equal_nan=True)


def test_a_model_without_runs_has_no_rows(log: RunLog) -> None:
    seq, columns = log.columns("Fell 60")
    assert (seq.size, columns.count) == (0, 0)
    assert log.models() == ()


def test_runs_are_listed_with_how_they_ended(log: RunLog) -> None:
    fail, passed = example_run(), with_verdict(example_run(run_id="2"), Verdict.PASS)
    for run in (fail, passed):
        log.store(run)
    first, second = log.list_runs("Tarn 2", Period())
    assert (first.run_id, first.serial, first.cause) == (fail.run_id, "T2A00123", "response")
    assert (second.verdict, second.cause, second.untrusted) == (Verdict.PASS, None, False)
    assert log.list_runs("Tarn 2", Period(until_utc=STARTED)) == ()
    assert len(log.list_runs("Tarn 2", Period(since_utc=STARTED))) == 2
    assert log.models() == ("Tarn 2",)
