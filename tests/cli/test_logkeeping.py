"""The log is verified, copied, thinned out and summed up by commands."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from station.judging.verdicts.verdict import Verdict
from station.records.log.log import RunLog
from tests.records.example import FACTS, STARTED, example_recording, example_run, with_verdict

PASS, REFUSED, FAULT = 0, 2, 4


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    """Return a logs folder with a unit that failed and then passed, and one that passed."""
    with RunLog.open(tmp_path / "logs") as log:
        for minute, (serial, verdict) in enumerate(
            [("T2A00001", "fail"), ("T2A00002", "pass"), ("T2A00001", "pass")]
        ):
            facts = replace(FACTS, run_id=f"r{minute}", serial=serial)
            run = example_run(
                run_id=f"r{minute}",
                serial=serial,
                recording=log.store_recording(example_recording(), facts),
                started_utc=STARTED + timedelta(minutes=minute),
            )
            log.store(with_verdict(run, Verdict(verdict)))
    return tmp_path / "logs"


def test_an_untouched_log_is_as_it_was_written(station: Any, logs: Path) -> None:
    shown = station("verify-log", "--logs", logs)
    assert shown.code == PASS
    assert shown.out.endswith("Everything is as it was written.\n")
    assert "Recordings of runs: 3 unchanged, 0 let go by rule, 0 changed, 0 missing." in shown.out


def test_a_changed_and_a_lost_recording_are_named(station: Any, logs: Path) -> None:
    path = logs / "recordings" / "r1.flac"
    path.write_bytes(path.read_bytes()[:-1] + b"\0")
    (logs / "recordings" / "r2.flac").unlink()
    shown = station("verify-log", "--logs", logs)
    assert shown.code == FAULT
    assert "CHANGED: r1.flac" in shown.out
    assert "MISSING: r2.flac" in shown.out
    assert station("verify-log", "--no-recordings", "--logs", logs).code == PASS


def test_a_recording_without_a_run_is_told_and_no_fault(station: Any, logs: Path) -> None:
    shutil.copy(logs / "recordings" / "r1.flac", logs / "recordings" / "r9.flac")
    shown = station("verify-log", "--logs", logs)
    assert shown.code == PASS
    assert "Named by no entry" in shown.out
    assert "r9.flac" in shown.out


def test_the_tip_of_a_shift_report_proves_the_log_later(station: Any, logs: Path) -> None:
    period = ("--from", "2026-01-03T08:00", "--to", "2026-01-03T09:00")
    report = station("shift-report", *period, "--logs", logs)
    assert report.code == PASS
    tip = next(line.strip() for line in report.out.splitlines() if len(line.strip()) == 64)
    with RunLog.open(logs) as log:
        log.store(example_run(run_id="later"))
    shown = station("verify-log", "--tip", tip, "--logs", logs)
    assert shown.code == PASS
    assert f"Tip {tip}: number 3 of runs" in shown.out
    other = station("verify-log", "--tip", "0" * 64, "--logs", logs)
    assert other.code == FAULT
    assert "NOT FOUND" in other.out


def test_a_changed_run_is_told_and_goes_when_the_log_is_mended(station: Any, logs: Path) -> None:
    with closing(sqlite3.connect(logs / "station.db", isolation_level=None)) as other:
        (rule,) = other.execute(
            "SELECT sql FROM sqlite_schema WHERE name = 'runs_no_update'"
        ).fetchone()
        other.execute("DROP TRIGGER runs_no_update")
        other.execute("UPDATE runs SET verdict = 'pass' WHERE seq = 1")
        other.execute(rule)
    shown = station("verify-log", "--logs", logs)
    assert shown.code == FAULT
    assert "BROKEN at run number 1 (r0): The run was changed after it was written." in shown.out
    mended = station("verify-log", "--mend", "--logs", logs)
    assert mended.code == PASS
    assert "Lost: runs 1." in mended.out
    after = station("verify-log", "--no-recordings", "--logs", logs)
    assert after.code == PASS
    assert "Set aside on" in after.out
    assert "Everything is as it was written" in station("verify-log", "--mend", "--logs", logs).out


@pytest.mark.parametrize("tip", ["abc", "z" * 64, ""])
def test_what_is_no_hash_is_refused(station: Any, logs: Path, tip: str) -> None:
    shown = station("verify-log", "--tip", tip, "--logs", logs)
    assert shown.code == REFUSED
    assert "is no tip" in shown.err


def test_the_shift_counts_units_once_and_tells_first_passes(station: Any, logs: Path) -> None:
    period = ("--from", "2026-01-03T08:00", "--to", "2026-01-03T09:00", "--json")
    report = json.loads(station("shift-report", *period, "--logs", logs).out)
    (model,) = report["models"]
    assert (model["model"], model["units"], model["runs"]) == ("Tarn 2", 2, 3)
    assert (model["first_pass"], model["passed"], model["failed"], model["void"]) == (1, 2, 0, 0)
    assert report["causes"] == [
        {
            "verdict": "fail", "reading": "response", "side": "below",
            "happened": "Frequency response: below the limit.", "runs": 1,
        }
    ]  # fmt: skip
    assert report["tips"]["runs"]["number"] == 3
    backwards = ("--from", "2026-01-03T09:00", "--to", "2026-01-03T08:00")
    assert station("shift-report", *backwards, "--logs", logs).code == REFUSED


def test_a_shift_without_units_says_so(station: Any, logs: Path) -> None:
    shown = station("shift-report", "--from", "2025-01-01", "--to", "2025-01-02", "--logs", logs)
    assert shown.code == PASS
    assert "No unit was tested." in shown.out


def test_a_backup_is_a_logs_folder(station: Any, logs: Path, tmp_path: Path) -> None:
    made = station("backup", tmp_path / "copy", "--logs", logs)
    assert made.code == PASS
    assert "3 runs" in made.out
    assert "3 copied, 0 there already" in made.out
    history = station("history", "T2A00001", "--logs", tmp_path / "copy")
    assert history.out.index("FAIL") < history.out.index("PASS")
    assert station("verify-log", "--logs", tmp_path / "copy").code == PASS


def test_recordings_go_and_the_history_says_so(station: Any, logs: Path) -> None:
    rule = ("let-go", "--verdict", "pass", "--older-than", "1", "--logs", logs)
    assert "2 would be let go" in station(*rule, "--dry-run").out
    done = station(*rule)
    assert done.code == PASS
    assert "2 were let go" in done.out
    assert "(let" in station("history", "T2A00001", "--logs", logs).out  # the column wraps
    shown = station("verify-log", "--logs", logs)
    assert shown.code == PASS
    assert "1 unchanged, 2 let go by rule" in shown.out


@pytest.mark.parametrize("command", [["verify-log"], ["shift-report"], ["backup", "copy"]])
def test_a_folder_without_a_log_is_refused(
    station: Any, tmp_path: Path, command: list[str]
) -> None:
    shown = station(*command, "--logs", tmp_path)
    assert shown.code == REFUSED
    assert "There is no log" in shown.err
