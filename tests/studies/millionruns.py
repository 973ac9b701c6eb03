"""A log of one million runs: `python -m tests.studies.millionruns [RUNS [CURVES]]`, some 3 GB.

The runs go in through the real rows, hashes and triggers, thousands to a transaction. Then times
are taken that the line would notice: opening, the look at the start, the history of a unit, a
commit.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

import numpy as np

from station.analysis.readings import Number, Readings
from station.records.chains.chain import RUNS, run_hash
from station.records.chains.chainedrows import last_link
from station.records.chains.query import insert_run, insert_shared
from station.records.kept.run import Run
from station.records.log.log import RunLog
from station.records.rows.runs import grids_of, rows_of, texts_of
from tests.benchmarks.bench_records import full_run
from tests.records.example import STARTED

MILLION = 1_000_000
IN_ONE_TRANSACTION = 5000
RUN_S = 10.0  # between two units
ASKED = 200  # units whose history is asked for
COMMITS = 50
CURVES = 0  # of a run: with the 14 of a full limit file a million runs would be 9 GB
PATTERNS = 32  # different readings; every run has its own serial, id, time and one number


def shape_of(number: int, curves: int) -> Run:
    """Return a run with 30 numbers and so many curves, each with its margin."""
    run = full_run(number)
    kept = dict(list(run.readings.curves.items())[:curves])
    margins = {
        name: margin
        for name, margin in run.judgement.margins.items()
        if name in kept or name in run.readings.numbers
    }
    return replace(
        run,
        readings=Readings(run.readings.numbers, kept, {}),
        judgement=replace(run.judgement, margins=margins),
    )


def runs(count: int, curves: int) -> Iterator[Run]:
    """Yield runs of ever new units; each tenth is a retest."""
    shapes = [shape_of(n, curves) for n in range(PATTERNS)]
    for n in range(count):
        shape = shapes[n % PATTERNS]
        numbers = {**shape.readings.numbers, "number0": Number(float(n), "dB")}
        yield replace(
            shape,
            run_id=f"m{n}",
            serial=f"T2A{n - n % 10 if n % 10 == 9 else n:07d}",
            started_utc=STARTED + timedelta(seconds=RUN_S * n),
            monotonic_s=float(n),
            readings=Readings(numbers, shape.readings.curves, {}),
        )


def fill(log: RunLog, count: int, curves: int) -> None:
    """Store runs, thousands to a transaction."""
    coming = runs(count, curves)
    for start in range(0, count, IN_ONE_TRANSACTION):
        with log.writing() as connection:
            seq, previous_hash = last_link(connection, RUNS)
            for _ in range(min(IN_ONE_TRANSACTION, count - start)):
                run = next(coming)
                rows = rows_of(run, seq + 1, previous_hash)
                if seq < PATTERNS:
                    insert_shared(connection, texts_of(run.setup), grids_of(run.readings))
                seq, previous_hash = seq + 1, run_hash(rows)
                insert_run(connection, rows, previous_hash)


def spent_s(act: Callable[[], object]) -> float:
    """Return how long an action took."""
    start_s = time.perf_counter()
    act()
    return time.perf_counter() - start_s


def opened_s(folder: Path, *, thorough: bool) -> float:
    """Return how long it takes to open the log."""
    start_s = time.perf_counter()
    log = RunLog.open(folder, thorough=thorough)
    taken_s = time.perf_counter() - start_s
    log.close()
    assert not log.mended
    return taken_s


def main() -> None:
    """Print size and times."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else MILLION
    curves = int(sys.argv[2]) if len(sys.argv) > 2 else CURVES
    with TemporaryDirectory() as name:
        folder = Path(name)
        with RunLog.open(folder) as log:
            print(f"{count} runs stored in {spent_s(lambda: fill(log, count, curves)):.0f} s")
        size = (folder / "station.db").stat().st_size
        print(
            f"{size / 1e9:.2f} GB, {size / count:.0f} bytes a run of 30 numbers and {curves} curves"
        )
        print(f"opened in {1e3 * opened_s(folder, thorough=False):.1f} ms")
        print(f"opened with the look at the start in {opened_s(folder, thorough=True):.2f} s")
        random = np.random.default_rng(1)
        with RunLog.open(folder) as log:
            serials = [f"T2A{n - n % 10:07d}" for n in random.integers(0, count, ASKED)]
            asked_s = [spent_s(lambda s=serial: log.runs_of(s)) for serial in serials]  # type: ignore[misc]
            assert all(len(log.runs_of(serial)) == 2 for serial in serials[:5])
            print(
                f"history of one unit, two runs: median {1e3 * median(asked_s):.2f} ms, "
                f"worst of {ASKED} {1e3 * max(asked_s):.2f} ms"
            )
            fresh = [replace(shape_of(n, curves), run_id=f"fresh{n}") for n in range(COMMITS)]
            stored_s = [spent_s(lambda r=run: log.store(r)) for run in fresh]  # type: ignore[misc]
            print(f"one more run stored: median {1e3 * median(stored_s):.2f} ms")


if __name__ == "__main__":
    main()
