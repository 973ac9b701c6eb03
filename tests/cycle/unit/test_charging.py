"""A panel is measured when its bias has built up, however long that takes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from threading import Event

import pytest

from station.cycle.unit.report import Progress, Stage
from station.judging.files.shelf import LimitShelf, shelved
from station.judging.tables.biastables import BiasTable
from station.judging.verdicts.verdict import Verdict
from tests.cycle.line import LIMITS, run_unit, simulated_line

GOOD = "F6A00041"
FELL = shelved(LIMITS / "fell60.toml")
BIAS = BiasTable(
    from_hz=2000.0, to_hz=8000.0, duration_s=0.3, silence_s=0.1, gate_s=0.05,
    missing_below_db_spl=60.0, low_below_db_spl=80.0, settled_within_db=0.1, at_most_s=60.0,
)  # fmt: skip


def shelf_with(**changes: float) -> LimitShelf:
    table = BiasTable.model_validate(BIAS.model_dump() | changes)
    limits = FELL.limits.model_copy(update={"bias": table})
    return LimitShelf("limits", (replace(FELL, limits=limits),))


def test_a_bias_switched_on_just_now_is_waited_for(tmp_path: Path) -> None:
    faults = {GOOD: {"station_early_bias": 1.0}}
    with simulated_line(tmp_path / "without", faults) as (cycle, _):
        assert run_unit(cycle, GOOD).runs[0].judgement.verdict is not Verdict.PASS
    with simulated_line(tmp_path / "with", faults, shelf=shelf_with()) as (cycle, log):
        assert run_unit(cycle, GOOD).final.judgement.verdict is Verdict.PASS
        assert len(log.runs_of(GOOD)) == 1


def test_one_that_is_charged_already_is_not_waited_for(tmp_path: Path) -> None:
    with simulated_line(tmp_path, {}, shelf=shelf_with()) as (cycle, _):
        told: list[Progress] = []
        report = cycle.test_unit(GOOD, on_progress=told.append, stop=Event())
        assert report.final.judgement.verdict is Verdict.PASS
        assert Stage.CHARGING not in [progress.stage for progress in told]


def test_one_that_still_rises_when_the_time_is_over_is_void(tmp_path: Path) -> None:
    faults = {GOOD: {"station_early_bias": 0.2}}
    with simulated_line(tmp_path, faults, shelf=shelf_with(at_most_s=2.0)) as (cycle, log):
        report = run_unit(cycle, GOOD)
        assert report.final.judgement.verdict is Verdict.VOID
        assert "still rises" in report.final.judgement.causes[0].happened
        assert len(log.runs_of(GOOD)) == 1


@pytest.mark.parametrize("fault", [{"missing_bias": 1.0}, {"low_bias": 0.4}])
def test_a_bias_that_is_missing_or_low_is_judged_by_the_limits(
    tmp_path: Path, fault: dict[str, float]
) -> None:
    faults = {GOOD: {"station_early_bias": 1.0, **fault}}
    with simulated_line(tmp_path, faults, shelf=shelf_with(at_most_s=20.0)) as (cycle, _):
        assert run_unit(cycle, GOOD).final.judgement.verdict is Verdict.FAIL


def test_a_dead_microphone_is_told_as_one(tmp_path: Path) -> None:
    faults = {GOOD: {"station_early_bias": 1.0, "station_silent_microphone": 1.0}}
    with simulated_line(tmp_path, faults, shelf=shelf_with(at_most_s=4.0)) as (cycle, _):
        judgement = run_unit(cycle, GOOD).final.judgement
        assert judgement.verdict is Verdict.VOID
        assert judgement.causes[0].happened.startswith("An input is dead (microphone")


def test_the_levels_of_a_table_must_make_sense() -> None:
    with pytest.raises(ValueError, match="must be above missing_below_db_spl"):
        shelf_with(low_below_db_spl=50.0)
