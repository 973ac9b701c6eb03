"""What a gauge study measures is no production, whatever comes of it."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pytest

from station.cycle.unit.unitcycle import UnitCycle
from station.errors import StoppedError
from station.judging.files.shelf import limit_shelf
from station.judging.verdicts.verdict import Verdict
from station.quality.gauge.desk import Asked, GaugeDesk, Study
from station.records.kept.run import Run
from station.records.log.gauges import GaugeLog
from station.records.log.log import RunLog
from station.records.log.production import LeftOut, left_out
from station.records.log.watch import WatchLog
from station.records.summaries.runlist import Period
from tests.cycle.line import (
    BEGIN_UTC,
    LIMITS,
    SteadyClock,
    nobody_watches,
    run_unit,
    simulated_line,
)

UNITS = ("T2A00901", "T2A00902")
ASKED = Asked(UNITS, ("J. Moor", "K. Low"), 2, "Q. Lind", "", seed=1)


class Gauging:
    """A study on a simulated line, its first step next."""

    def __init__(self, cycle: UnitCycle, log: RunLog) -> None:
        self.cycle, self.log = cycle, log
        self.desk = GaugeDesk(GaugeLog(log), SteadyClock(), simulated=True)
        self.study: Study = self.desk.plan(ASKED, limit_shelf(LIMITS))

    def first_step(self, *, stopped: bool = False) -> Run:
        stop = threading.Event()
        if stopped:
            stop.set()
        step = self.study.left[0]
        return self.desk.carry_out(
            self.cycle, self.study, step, on_progress=nobody_watches, stop=stop
        )

    def left_out(self) -> LeftOut:
        return left_out(self.log, None, Period())

    def production(self) -> list[str]:
        """Return the units that production tested, as whatever counts it finds them."""
        shift = [unit.serial for unit in self.log.shift_count(BEGIN_UTC).last]
        assert [run.serial for run in WatchLog(self.log).runs("Tarn 2", Period())] == shift
        assert [run.serial for run in self.log.list_runs("Tarn 2", Period())] == shift
        assert [run.serial for run in self.log.newest_runs("Tarn 2", "A")] == shift
        return shift


@contextmanager
def gauging(tmp_path: Path, faults: Mapping[str, Mapping[str, float]]) -> Iterator[Gauging]:
    with simulated_line(tmp_path, faults) as (cycle, log):
        yield Gauging(cycle, log)


def test_a_scan_that_is_void_to_the_end_counts_nowhere_as_production(tmp_path: Path) -> None:
    dead = {"station_silent_microphone": 1.0}
    with gauging(tmp_path, dict.fromkeys(UNITS, dead)) as here:
        assert here.first_step().judgement.verdict is Verdict.VOID
        assert here.desk.study("G1").done == 0
        assert here.left_out() == LeftOut(gauge=3)  # the limit file allows two repeats
        assert here.production() == []
        run_unit(here.cycle, "T2A00903")
        assert here.production() == ["T2A00903"]
        assert here.log.chain_fault() is None


def test_a_stopped_scan_is_no_production_either(tmp_path: Path) -> None:
    with gauging(tmp_path, {}) as here:
        with pytest.raises(StoppedError):
            here.first_step(stopped=True)
        assert here.desk.study("G1").next_step == here.study.left[0]
        assert here.left_out() == LeftOut(gauge=1)
        assert here.production() == []


def test_a_scan_that_gave_a_verdict_counts_once_among_those_left_out(tmp_path: Path) -> None:
    with gauging(tmp_path, {}) as here:
        assert here.first_step().judgement.verdict is Verdict.PASS
        assert here.desk.study("G1").done == 1
        assert here.left_out() == LeftOut(gauge=1)
        assert here.production() == []
