from __future__ import annotations

from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
import pytest

from station.analysis.readings import Curve, Number, Readings
from station.errors import RefusedInputError
from station.quality.gauge.findings import gauge_findings
from station.quality.gauge.plan import planned, steps_left
from station.quality.gauge.words import number_rows, ordinal, uncertainty_points, uncertainty_tables
from station.records.kept.gauge import GaugeEntry, GaugePlan
from station.records.kept.run import Run
from tests.quality.gaugedata import IMPEDANCE
from tests.quality.production import HOUSE
from tests.records.example import example_run

HZ = np.geomspace(100.0, 1000.0, 31)


def plan_of(units: int, operators: int, repeats: int) -> GaugePlan:
    return planned(
        "G1",
        serials=[f"U{n}" for n in range(units)],
        operators=[f"O{n}" for n in range(operators)],
        repeats=repeats,
        model="Tarn 2",
        title="",
        by="Q",
        at_utc=datetime(2026, 11, 25, tzinfo=UTC),
        simulated=True,
        seed=1,
    )


def runs_with(plan: GaugePlan, values: np.ndarray) -> dict[int, Run]:
    """Return the runs of a study whose sensitivity is told unit by operator by repeat."""
    random = np.random.default_rng(2)
    tilt = np.linspace(0.5, 0.1, HZ.size)  # a gauge that is surer at the top
    return {
        step.number: example_run(
            readings=Readings(
                {"sensitivity": Number(float(value), "dB"), "fs": Number(56.0, "Hz")},
                {"response": Curve(HZ, value + tilt * random.normal(size=HZ.size), "dB")},
            ),
            setup=HOUSE,
        )
        for step in plan.steps
        for value in [
            values[
                plan.serials.index(step.serial),
                plan.operators.index(step.operator),
                step.repeat - 1,
            ]
        ]
    }


def test_every_unit_is_measured_by_everybody_as_often_whatever_the_order() -> None:
    plan = plan_of(4, 3, 2)
    cells = {(step.serial, step.operator, step.repeat) for step in plan.steps}
    assert len(plan.steps) == len(cells) == 24
    assert [step.number for step in plan.steps] == list(range(1, 25))
    assert {step.repeat for step in plan.steps[:12]} == {1}  # round by round
    operators = [step.operator for step in plan.steps[:12]]
    assert sum(a != b for a, b in pairwise(operators)) == 2
    assert plan_of(4, 3, 2) == plan


def test_a_study_goes_on_where_it_stopped() -> None:
    plan = plan_of(2, 2, 2)
    done = [GaugeEntry("G1", n, f"r{n}", plan.planned_utc) for n in (1, 2, 4)]
    assert [step.number for step in steps_left(plan, done)] == [3, 5, 6, 7, 8]


def test_a_published_study_comes_out_of_the_log_in_whatever_order_it_was_measured() -> None:
    plan = plan_of(10, 3, 3)
    findings = gauge_findings(plan, runs_with(plan, IMPEDANCE))
    (number,) = findings.numbers  # the one of gaugedata.py: MS(interaction) 2.695, kept
    assert number.study.interaction
    assert number.study.gauge.estimate[0] == pytest.approx(1.80370370, rel=1e-7)
    assert number.width == 3.0
    assert findings.left_out == {"fs": "it is the same in every repeat"}
    (row,) = number_rows(findings)
    assert row[3] == "1.3 dB (1.1 to 5.2)"  # √1.8037 (√1.2062 to √27.017)
    assert row[7] == "7"  # √(2 · 26.774) = 7.3


def test_breakpoints_of_an_uncertainty_lie_on_or_above_it() -> None:
    plan = plan_of(5, 3, 3)
    values = np.random.default_rng(3).normal(86.0, 0.3, (5, 1, 1)) * np.ones((1, 3, 3))
    findings = gauge_findings(plan, runs_with(plan, values))
    (curve,) = findings.curves
    points = np.array(uncertainty_points(curve))
    stated = np.interp(np.log(curve.frequency_hz), np.log(points[:, 0]), points[:, 1])
    assert np.all(stated >= curve.study.standard_uncertainty - 1e-12)
    assert 'reading = "response"\npoints = [[100, ' in uncertainty_tables(findings)


def test_runs_by_different_limits_or_too_few_are_refused() -> None:
    plan = plan_of(2, 2, 2)
    runs = runs_with(plan, np.random.default_rng(4).normal(size=(2, 2, 2)))
    with pytest.raises(RefusedInputError, match="lacks 1 of 8"):
        gauge_findings(plan, {step: run for step, run in runs.items() if step != 5})
    runs[3] = example_run()
    with pytest.raises(RefusedInputError, match="different limits"):
        gauge_findings(plan, runs)


def test_counting_words() -> None:
    assert [ordinal(n) for n in (1, 2, 3, 4, 11, 12, 21, 112)] == [
        "1st", "2nd", "3rd", "4th", "11th", "12th", "21st", "112th",
    ]  # fmt: skip
