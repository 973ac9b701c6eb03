"""How long a span of production takes to be watched, against reading and parsing its rows alone."""

from __future__ import annotations

import json
from pathlib import Path
from time import perf_counter

import numpy as np
import pytest

from station.quality.watching.watched import Wanted, watched_production
from station.records.log.log import RunLog
from station.records.log.watch import WatchLog
from tests.quality.production import run_of_unit

UNITS = 4000
WANTED = Wanted(None, None, None, (), 5, 100)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("logs")
    chance = np.random.default_rng(1)
    with RunLog.open(folder) as log:
        log._connection.execute("PRAGMA synchronous = OFF")  # a log to be read, not to be kept
        for n in range(UNITS):
            level_db, fs_hz = chance.normal(86.5, 0.2), chance.normal(56.0, 0.5)
            log.store(run_of_unit(f"r{n}", f"T2A{n + 1:05d}", n, level_db, fs_hz))
    return folder


def test_watching_costs_a_few_times_the_reading(folder: Path) -> None:
    with RunLog.open(folder) as log:
        began = perf_counter()
        with log.reading() as connection:
            rows = connection.execute("SELECT numbers, started_utc FROM runs").fetchall()
        for row in rows:
            json.loads(row[0])
        baseline_s = perf_counter() - began
        began = perf_counter()
        watched = watched_production(WatchLog(log), WANTED)
        told = watched.alarms
        watching_s = perf_counter() - began
    assert len(watched.units) == UNITS
    assert len(told) <= 1
    ratio = watching_s / baseline_s
    print(f"\nwatching {UNITS} units: {ratio:.1f} times reading and parsing their numbers")
    assert ratio < 15.0
