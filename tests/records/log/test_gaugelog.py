from __future__ import annotations

from pathlib import Path

import pytest

from station.records.log.gauges import GaugeLog
from station.records.log.log import RunLog
from tests.records.example import example_gauge_entry, example_gauge_plan, example_run
from tests.records.same import same


def test_a_study_and_its_runs_come_back_after_closing(tmp_path: Path) -> None:
    first, second = example_run(), example_run(run_id="second", attempt=2)
    with RunLog.open(tmp_path) as log:
        log.store(first)
        log.store(second)
        gauges = GaugeLog(log)
        gauges.open_study(example_gauge_plan())
        gauges.add_entry(example_gauge_entry(step=2, run_id="second"))
        gauges.add_entry(example_gauge_entry())
    with RunLog.open(tmp_path) as log:
        gauges = GaugeLog(log)
        assert gauges.plans() == (example_gauge_plan(),)
        assert [entry.step for entry in gauges.entries("G1")] == [1, 2]
        assert same(dict(gauges.runs("G1")), {1: first, 2: second})
        assert log.chain_fault() is None


def test_a_step_is_carried_out_once(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        log.store(example_run())
        gauges = GaugeLog(log)
        gauges.open_study(example_gauge_plan())
        gauges.add_entry(example_gauge_entry())
        with pytest.raises(ValueError, match="gauge entry G1-1"):
            gauges.add_entry(example_gauge_entry())
        with pytest.raises(ValueError, match="gauge study G1"):
            gauges.open_study(example_gauge_plan())
