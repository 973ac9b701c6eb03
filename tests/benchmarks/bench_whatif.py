"""A draft tried on 100,000 stored units, against a bare comparison of as many curves."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from station.judging.files.limit_file import limit_file_from_text
from station.judging.tables.tables import BandTable, LimitFile, NumberTable
from station.quality.judged.manyunits import as_the_line, judged_units
from station.quality.judged.units import Choice, stored_units
from station.quality.whatif.report import WhatIf, endings_of, stored_endings, what_if
from station.records.log.log import RunLog
from tests.judging.example import LIMITS
from tests.quality.biglog import CURVES, NUMBERS, TWELFTHS_HZ, fill_log, made_up_runs

UNITS = 100_000


def five_bands() -> LimitFile:
    """Return a draft with a band on each of the five curves, and limits on all numbers."""
    points = ((40.0, 84.0, 88.0), (1000.0, 84.2, 87.8), (20000.0, 84.0, 88.0))
    return limit_file_from_text(LIMITS, "x.toml").model_copy(
        update={
            "bands": tuple(
                BandTable(reading=name, mode="absolute", scale=1.0, points=points)
                for name in CURVES
            ),
            "numbers": tuple(
                NumberTable(reading=f"number{place}", lower=-4.0, upper=4.0, scale=1.0)
                for place in range(NUMBERS)
            ),
        }
    )


def timed(act: Callable[[], Any]) -> tuple[float, Any]:
    """Return how long an action took, and what it returned."""
    start_s = time.perf_counter()
    found = act()
    return time.perf_counter() - start_s, found


def tried(folder: Path, draft: LimitFile) -> WhatIf:
    """Return what the command computes, from the log to the report."""
    with RunLog.open(folder) as log:
        units = stored_units(log, "Tarn 2", Choice())
    judged = judged_units(units.readings, draft)
    found = as_the_line(units.readings, draft, judged, units.untrusted)
    return what_if(units.runs, stored_endings(units.runs), endings_of(found))


def test_a_hundred_thousand_units(tmp_path: Path) -> None:
    filled_s, _ = timed(lambda: fill_log(tmp_path, made_up_runs(UNITS, seed=1)))
    draft = five_bands()
    first_s, changes = timed(lambda: tried(tmp_path, draft))
    began_processor_s = time.process_time()
    again_s, same = timed(lambda: tried(tmp_path, draft))
    processor_s = time.process_time() - began_processor_s
    table = np.random.default_rng(0).standard_normal((UNITS, TWELFTHS_HZ.size), dtype=np.float32)
    bare_s, _ = timed(lambda: [((table < -4.0) | (table > 4.0)).any(axis=1) for _ in CURVES])
    assert changes == same
    assert changes.before.passed + changes.before.failed == UNITS
    print(
        f"\n{UNITS} units of {len(CURVES)} curves, {TWELFTHS_HZ.size} points each: "
        f"filled in {filled_s:.0f} s; tried in {again_s:.2f} s ({processor_s:.2f} s of the "
        f"processor), {again_s / bare_s:.1f} times a "
        f"bare comparison ({bare_s:.2f} s); the first time, with the copy made, {first_s:.2f} s"
    )
