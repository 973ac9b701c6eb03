"""A gauge study on the engineer's bench knows its operators by badge, and by name without roles."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from io import StringIO
from pathlib import Path

import pytest

from station.cli.line.demo import ignore
from station.cli.quality.gaugebench import BenchOptions, StationGaugeBench
from station.errors import NotAllowedError, RefusedInputError, StoppedError
from station.hardware.protocols.clock import SystemClock
from station.judging.verdicts.verdict import Verdict
from station.quality.gauge.desk import Study
from station.records.kept.run import Operator
from station.records.log.log import RunLog
from tests.cli.test_roles import with_roles
from tests.cli.works import Works

BADGES = {"J. Moor": "OP-0417", "K. Low": "OP-0418"}
STRANGER = "OP-9999"


@contextmanager
def bench_of(works: Works, station_file: Path | None) -> Iterator[tuple[StationGaugeBench, Study]]:
    """Hold a bench with a study of two units by both operators."""
    for name, badge in BADGES.items():
        assert works.add(name, "operator", "--badge", badge, *works.by()).code == 0
    logs = works.folder / "logs"
    with RunLog.open(logs / "simulated") as log:
        options = BenchOptions(works.limits, logs, station_file, simulate=True, seed=1)
        bench = StationGaugeBench(log, SystemClock(), options)
        study = bench.plan(
            units="T2A00901,T2A00902", operators=",".join(BADGES), repeats="2", by="Q", title=""
        )
        bench.hold()
        try:
            yield bench, study
        finally:
            bench.let_go()


def test_only_the_operator_whose_turn_it_is_measures(works: Works) -> None:
    with bench_of(works, with_roles(works)[1]) as (bench, study):
        step = study.left[0]
        other = next(name for name in BADGES if name != step.operator)
        never = threading.Event()
        with pytest.raises(NotAllowedError, match="Nobody has signed in"):
            bench.measure(study, step, on_progress=ignore, stop=never)
        with pytest.raises(NotAllowedError, match="belongs to nobody who is enrolled"):
            bench.greet(STRANGER, step.operator)
        with pytest.raises(RefusedInputError, match=f"That is {other}; it is the turn of "):
            bench.greet(BADGES[other], step.operator)
        bench.greet(BADGES[step.operator], step.operator)
        run = bench.measure(study, step, on_progress=ignore, stop=never)
        assert run.operator == Operator(step.operator, BADGES[step.operator])
        assert bench.study(study.plan.study_id).done == 1


def test_the_command_asks_for_the_badge_whose_turn_it_is(
    works: Works, monkeypatch: pytest.MonkeyPatch
) -> None:
    roles = with_roles(works)
    for name, badge in BADGES.items():
        assert works.add(name, "operator", "--badge", badge, *works.by()).code == 0
    operators = ",".join(BADGES)
    place = ("--limits-folder", works.limits)
    plan = ("--units", "T2A00901,T2A00902", "--operators", operators, "--repeats", "2", "--by", "Q")
    said = works.run("gauge", "plan", *plan, *place).out
    first = next(name for name in BADGES if f"{name} measures" in said)
    other = next(name for name in BADGES if name != first)
    monkeypatch.setattr("sys.stdin", StringIO(f"{STRANGER}\n{BADGES[other]}\n{BADGES[first]}\n"))
    measured = works.run("gauge", "measure", "G1", "--at-most", "2", *place, *roles)
    assert measured.code == 0
    assert "belongs to nobody who is enrolled" in measured.out
    assert f"That is {other}; it is the turn of {first}." in measured.out
    assert "2 done." in measured.out  # the second unit is the same operator's: no badge again


def test_without_roles_a_badge_or_a_name_will_do_and_a_stopped_step_is_left(works: Works) -> None:
    with bench_of(works, None) as (bench, study):
        step = study.left[0]
        bench.greet(BADGES[step.operator], step.operator)
        bench.greet(step.operator, step.operator)
        with pytest.raises(RefusedInputError, match="That is nobody; it is the turn of "):
            bench.greet("nobody", step.operator)
        stopped = threading.Event()
        stopped.set()
        with pytest.raises(StoppedError):
            bench.measure(study, step, on_progress=ignore, stop=stopped)
        assert bench.study(study.plan.study_id).next_step == step
        run = bench.measure(study, step, on_progress=ignore, stop=threading.Event())
        assert run.judgement.verdict is not Verdict.VOID
        bench.let_go()
        bench.hold()  # whoever stops goes on later
        assert bench.study(study.plan.study_id).done == 1
