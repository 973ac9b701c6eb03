"""A breakpoint moved over 10,000 units: until the screen knows who flips, against a bare look."""

from __future__ import annotations

import time
from pathlib import Path
from statistics import median

import numpy as np

from station.judging.files.limit_file import limit_file_from_text
from station.judging.tables.tables import BandTable
from station.quality.judged.units import Choice, stored_units
from station.quality.whatif.draft import opened_draft
from station.records.log.log import RunLog
from station.records.summaries.runlist import Period
from station.screens.engineer.desk import Desk
from station.screens.engineer.plot import CurvesPicture, curves_rows
from tests.judging.example import LIMITS
from tests.quality.biglog import CURVES, TWELFTHS_HZ, fill_log, made_up_runs

UNITS = 10_000
MOVES = 40


def test_a_moved_breakpoint(tmp_path: Path) -> None:
    fill_log(tmp_path, made_up_runs(UNITS, seed=2))
    points = ((40.0, 84.0, 88.0), (1000.0, 84.2, 87.8), (20000.0, 84.0, 88.0))
    limits = limit_file_from_text(LIMITS, "x.toml").model_copy(
        update={
            "bands": tuple(
                BandTable(reading=name, mode="absolute", scale=1.0, points=points)
                for name in CURVES
            ),
            "numbers": (),
        }
    )
    with RunLog.open(tmp_path) as log:
        units = stored_units(log, "Tarn 2", Choice())
    began_s = time.perf_counter()
    desk = Desk(opened_draft(units, limits), Period())
    desk.picture()
    opened_s = time.perf_counter() - began_s
    desk.step_along(1)
    times_s, processor_s = [], []
    for move in range(MOVES):
        began_s, began_processor_s = time.perf_counter(), time.process_time()
        desk.move(-1 if move < MOVES // 2 else 1)
        counts, picture = desk.draft.counts, desk.picture()
        assert isinstance(picture, CurvesPicture)
        curves_rows(picture, 120, 28)
        times_s.append(time.perf_counter() - began_s)
        processor_s.append(time.process_time() - began_processor_s)
    table = np.random.default_rng(0).standard_normal((UNITS, TWELFTHS_HZ.size), dtype=np.float32)
    began_s = time.perf_counter()
    ((table < -4.0) | (table > 4.0)).any(axis=1)
    bare_s = time.perf_counter() - began_s
    assert counts.passed + counts.failed + counts.void == UNITS
    print(
        f"\n{UNITS} units: opened in {1e3 * opened_s:.0f} ms; a key press takes "
        f"{1e3 * median(times_s):.1f} ms, at most {1e3 * max(times_s):.1f} ms (of the processor "
        f"{1e3 * median(processor_s):.1f} and {1e3 * max(processor_s):.1f} ms), "
        f"{median(times_s) / bare_s:.0f} times a bare comparison of as many curves"
    )
