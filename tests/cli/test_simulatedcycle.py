"""Scan, read, repair, scan again: the whole line in process, without its screen."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from station.cli.wiring.simulatedcycle import SimulatedLineCycle
from station.cli.wiring.wiring import ready_cycle, simulated_bench
from station.cycle.unit.report import Progress, UnitReport
from station.errors import StoppedError
from station.judging.verdicts.verdict import Verdict
from station.simulation.factory.line import LineState, SimulatedLine
from station.simulation.factory.shift import Rates, Shift

LIMITS = Path(__file__).parent.parent.parent / "limits"
CALM = Shift(5, 12, Rates(faulty_ratio=0.0, trouble_ratio=0.0, bang_ratio=0.0, mended_ratio=1.0))
FAULTS = {
    "T2A00102": {"reversed_tweeter": 1.0},
    "T2A00105": {"station_silent_microphone": 1.0},
}


@contextmanager
def line_in(logs: Path) -> Iterator[tuple[SimulatedLineCycle, SimulatedLine]]:
    line = SimulatedLine(LineState(CALM, planted=FAULTS))
    with (
        simulated_bench(1, line.faults_of, paced=False, conditions_of=line.conditions_of) as bench,
        ready_cycle(bench, LIMITS, logs) as cycle,
    ):
        yield SimulatedLineCycle(cycle, line), line


def scanned(cycle: SimulatedLineCycle, serial: str) -> UnitReport:
    return cycle.test_unit(serial, on_progress=nobody_watches, stop=threading.Event())


def nobody_watches(_progress: Progress) -> None:
    pass


def test_who_does_what_the_station_advises_gets_good_units(tmp_path: Path) -> None:
    with line_in(tmp_path) as (cycle, line):
        first = line.waiting()
        assert cycle.model_of(first)[0] in {"Tarn 2", "Fell 60", "Scree 12"}
        assert scanned(cycle, first).final.judgement.verdict is Verdict.PASS
        assert line.waiting() != first
        assert scanned(cycle, "T2A00102").final.judgement.verdict is Verdict.FAIL
        assert scanned(cycle, "T2A00102").final.judgement.verdict is Verdict.PASS
        assert scanned(cycle, "T2A00105").final.judgement.verdict is Verdict.VOID
        assert scanned(cycle, "T2A00105").final.judgement.verdict is Verdict.PASS
        counts = cycle.shift_so_far()
        assert (counts.passed, counts.failed, counts.void) >= (3, 0, 0)


def test_the_temperature_of_the_hall_is_noted_with_every_run(tmp_path: Path) -> None:
    with line_in(tmp_path) as (cycle, line):
        run = scanned(cycle, line.waiting()).final
    assert run.temperature_c == pytest.approx(CALM.temperature_c(0))


def test_a_stopped_test_changes_nothing_on_the_line(tmp_path: Path) -> None:
    stop = threading.Event()
    stop.set()
    with line_in(tmp_path) as (cycle, line):
        before = line.state
        with pytest.raises(StoppedError):
            cycle.test_unit(line.waiting(), on_progress=nobody_watches, stop=stop)
        assert line.state is before
