"""A run that was told stored is there after the process was killed at any instant."""

from __future__ import annotations

import random
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

from station.records.log.log import RunLog
from station.records.recordings.recording_file import read_recording
from tests.records.example import FACTS, example_recording, example_run
from tests.records.same import same

KILLS = 15
ROOT = Path(__file__).parents[3]


def told_before_the_kill(folder: Path, first: int, lines: int) -> list[str]:
    """Start the writer, kill it after so many ids were read, and return all it had told."""
    writer = subprocess.Popen(
        [sys.executable, "-m", "tests.records.writer", str(folder), str(first)],
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    assert writer.stdout is not None
    with writer, writer.stdout as told:
        ids = [told.readline().strip() for _ in range(lines)]
        writer.kill()  # it has gone on writing meanwhile: the kill hits it anywhere
        ids += told.read().split("\n")[:-1]  # what follows the last newline was not told whole
    assert writer.returncode == -9
    return ids


def test_no_stored_run_is_lost_or_half_when_the_process_is_killed(tmp_path: Path) -> None:
    folder = tmp_path / "logs"
    points = random.Random(17)
    told: list[str] = []
    for kill in range(KILLS):
        told += told_before_the_kill(folder, 1000 * kill, points.randint(1, 12))
    recording = example_recording()
    with RunLog.open(folder) as log:
        runs = {run.run_id: run for run in log.runs_of("T2A00123")}
        assert log.chain_fault() is None
        assert log._connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert set(told) <= set(runs)
        # At most the one run whose commit was done but not yet told comes on top of each kill.
        assert len(runs) <= len(told) + KILLS
        for run_id, run in runs.items():
            assert run.recording is not None
            expected = example_run(
                run_id=run_id, monotonic_s=float(run_id[1:]), recording=run.recording
            )
            assert same(run, expected)
            assert log.recording_unchanged(run.recording)
        last = runs[told[-1]].recording
        assert last is not None
        read = read_recording(log.path_of(last))
        assert same(read, (recording, replace(FACTS, run_id=told[-1])))


def test_the_log_goes_on_after_a_kill(tmp_path: Path) -> None:
    told = told_before_the_kill(tmp_path, 0, 3)
    with RunLog.open(tmp_path) as log:
        log.store(example_run(run_id="after"))
        ids = [run.run_id for run in log.runs_of("T2A00123")]
        assert log.chain_fault() is None
    assert ids[: len(told)] == told
    assert ids[-1] == "after"
