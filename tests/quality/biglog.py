"""A log of made-up units through the real schema and row code, in one transaction."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from station.analysis.readings import Curve, Number, Readings
from station.analysis.signals.bands import band_centres
from station.judging.verdicts.verdict import Cause, Judgement, Margin, Verdict
from station.records.chains.chain import run_hash
from station.records.chains.chainedrows import last_link
from station.records.chains.query import insert_run, insert_shared
from station.records.database.connection import connected, transaction
from station.records.kept.run import Run, Setup
from station.records.log.log import DATABASE_NAME, RunLog
from station.records.rows.runs import grids_of, rows_of, texts_of

BEGAN = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
TWELFTHS_HZ = band_centres(40.0, 20000.0, 12)
CURVES = ("response", "impedance", "impedance_phase", "thd", "rub")
NUMBERS = 12
SPREAD_DB, LEVEL_SPREAD_DB = 0.3, 0.4
SETUP = Setup("tarn2.toml", "#" * 6000, "station.toml", "#" * 800, {"station": "0.1.0"})


def made_up_runs(count: int, seed: int) -> Iterator[Run]:
    """Yield units of one model, one run each: 5 curves of 108 points and 12 numbers."""
    rng = np.random.default_rng(seed)
    for number in range(count):
        failed = rng.random() < 0.02
        level = LEVEL_SPREAD_DB * rng.standard_normal()
        shapes = SPREAD_DB * rng.standard_normal((len(CURVES), TWELFTHS_HZ.size))
        curves = {
            name: Curve(TWELFTHS_HZ, 86.0 + level + shape, "dB")
            for name, shape in zip(CURVES, shapes, strict=True)
        }
        values = rng.standard_normal(NUMBERS).tolist()
        numbers = {f"number{place}": Number(value, "dB") for place, value in enumerate(values)}
        causes = (Cause("response", "below", -0.1, "dB", 100.0, 0.1, "Low.", ""),) if failed else ()
        verdict = Verdict.FAIL if failed else Verdict.PASS
        margins = {name: Margin(0.5, "dB", 1000.0) for name in curves}
        yield Run(
            f"made-{number:07d}", f"T2A{number:06d}", "Tarn 2", "A", 1, True,
            BEGAN + timedelta(seconds=20 * number), float(number),
            Readings(numbers, curves, {}), Judgement(verdict, causes, "Next.", margins), SETUP,
            None,
        )  # fmt: skip


def fill_log(folder: Path, runs: Iterator[Run]) -> None:
    """Store runs in one transaction, by the log's own rows, hashes and triggers."""
    RunLog.open(folder).close()
    with closing(connected(folder / DATABASE_NAME, 5.0)) as connection, transaction(connection):
        last_seq, last_hash = last_link(connection, "runs")
        for seq, run in enumerate(runs, start=last_seq + 1):
            rows = rows_of(run, seq, last_hash)
            last_hash = run_hash(rows)
            insert_shared(connection, texts_of(run.setup), grids_of(run.readings))
            insert_run(connection, rows, last_hash)
