"""Two units are compared by what was stored, or it is told why not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from station.analysis.readings import Curve, Readings
from station.cycle.stored.pairs import matched_pair
from station.errors import RefusedInputError
from station.judging.verdicts.verdict import Verdict
from station.records.kept.run import Run
from station.records.log.log import RunLog
from tests.records.example import SETUP, example_run, with_verdict

LIMITS = "[readings.sensitivity]\nfrom_hz = 300.0\nto_hz = 6000.0\n"
HZ = np.geomspace(100.0, 10000.0, 81)


def unit(serial: str, level_db: Any, verdict: Verdict = Verdict.PASS, **changes: Any) -> Run:
    """Return a run of a unit with this response."""
    curve = Curve(HZ, np.broadcast_to(np.asarray(level_db, dtype=float), HZ.shape), "dB")
    run = example_run(
        run_id=f"{serial}-{verdict}-{changes.pop('number', 1)}",
        serial=serial,
        readings=Readings({}, {"response": curve}),
        setup=replace(SETUP, limit_text=changes.pop("limits", LIMITS)),
        **changes,
    )
    return with_verdict(run, verdict)


@pytest.fixture
def log(tmp_path: Path) -> Iterator[RunLog]:
    with RunLog.open(tmp_path) as log:
        yield log


def test_level_and_shape_are_told_apart_in_both_bands(log: RunLog) -> None:
    log.store(unit("A", 90.0))
    # 1 dB louder everywhere, and 0.5 dB more below 200 Hz, outside the sensitivity's band.
    log.store(unit("B", np.where(HZ < 200.0, 91.5, 91.0)))
    narrow, whole = matched_pair(log, "A", "B").bands
    assert (narrow.name, narrow.from_hz, narrow.to_hz) == ("sensitivity", 300.0, 6000.0)
    assert narrow.match.level_db == pytest.approx(1.0, abs=1e-5)
    assert narrow.match.shape_max_db == pytest.approx(0.0, abs=1e-5)
    assert (whole.name, whole.from_hz, whole.to_hz) == ("response", 100.0, 10000.0)
    # One of 6.64 octaves is 0.5 dB higher: 0.075 dB in the mean.
    assert whole.match.level_db == pytest.approx(1.075, abs=0.01)
    assert whole.match.worst_hz < 200.0


def test_the_newest_passed_run_counts_and_later_ones_are_shown(log: RunLog) -> None:
    log.store(unit("A", 90.0))
    log.store(unit("B", 95.0, number=1))
    log.store(unit("B", 90.5, number=2))
    log.store(unit("B", 80.0, Verdict.FAIL))
    pair = matched_pair(log, "A", "B")
    assert pair.bands[0].match.level_db == pytest.approx(0.5, abs=1e-5)
    assert pair.newest[1].judgement.verdict is Verdict.FAIL


def test_without_a_sensitivity_the_whole_response_is_compared(log: RunLog) -> None:
    log.store(unit("A", 90.0, limits="format = 1\n"))
    log.store(unit("B", 90.0))
    assert [band.name for band in matched_pair(log, "A", "B").bands] == ["response"]


@pytest.mark.parametrize(
    ("second", "told"),
    [
        (None, "no run of 'B'"),
        (unit("B", 90.0, Verdict.FAIL), "B has never passed"),
        (unit("B", 90.0, model="Fell 60"), "A is a Tarn 2, B a Fell 60"),
        (replace(unit("B", 90.0), readings=Readings()), "B has no response"),
        (
            replace(
                unit("B", 90.0),
                readings=Readings({}, {"response": Curve(HZ * 1.01, np.full(81, 90.0), "dB")}),
            ),
            "at different frequencies",
        ),
        (unit("B", np.where(HZ > 1000.0, np.nan, 90.0)), "."),
    ],
)
def test_what_cannot_be_compared_is_refused(log: RunLog, second: Run | None, told: str) -> None:
    log.store(unit("A", 90.0))
    if second is not None:
        log.store(second)
    with pytest.raises(RefusedInputError, match=told) as refused:
        matched_pair(log, "A", "B")
    assert refused.value.remedy


def test_a_unit_is_not_its_own_pair(log: RunLog) -> None:
    with pytest.raises(RefusedInputError, match="are the same"):
        matched_pair(log, "A", "A")
