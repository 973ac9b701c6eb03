from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.analysis.measure import Measured
from station.analysis.readings import Curve, Number, Readings
from station.judging.files.limit_file import limit_file_from_text
from station.judging.verdicts.judge import judge
from station.judging.verdicts.verdict import Verdict
from tests.judging.example import LIMITS

FILE = limit_file_from_text(LIMITS, "x.toml")
# Nominal octave mid-bands, ISO 266:1997, table 1.
OCTAVES_HZ = np.array([125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0])
GOOD = Readings(
    numbers={"sensitivity": Number(86.0, "dB"), "polarity.woofer": Number(0.99, "ratio")},
    curves={"response": Curve(OCTAVES_HZ, np.full(7, 86.0), "dB")},
)


def measured(
    *, response: list[float] | None = None, missing: dict[str, tuple[str, str]] | None = None,
    **numbers: float,
) -> Measured:  # fmt: skip
    found = dict(GOOD.numbers)
    for name, value in numbers.items():
        key = name.replace("__", ".")
        found[key] = Number(value, found[key].unit)
    curves = dict(GOOD.curves)
    if response is not None:
        curves["response"] = Curve(OCTAVES_HZ, np.array(response), "dB")
    return Measured(replace(GOOD, numbers=found, curves=curves, missing=missing or {}), ())


def test_a_unit_inside_every_limit_passes_with_its_margins() -> None:
    judgement = judge(measured(), FILE)
    assert judgement.verdict is Verdict.PASS
    assert judgement.causes == ()
    assert judgement.margins["sensitivity"].value == pytest.approx(1.0)
    assert judgement.margins["response"].value == pytest.approx(2.0)
    assert judgement.margins["response"].at_hz == 1000.0


def test_causes_come_the_furthest_outside_first() -> None:
    judgement = judge(
        measured(response=[86, 86, 86, 86, 86, 86, 78], sensitivity=84.0, polarity__woofer=-1.0),
        FILE,
    )
    assert judgement.verdict is Verdict.FAIL
    assert [cause.reading for cause in judgement.causes] == [
        "polarity.woofer",  # 1.7 outside on a scale of 0.05: 34
        "response",  # about 2.6 dB outside on a scale of 1 dB
        "sensitivity",  # 1 dB outside on a scale of 1 dB
    ]
    assert judgement.causes[1].at_hz == 8000.0
    assert judgement.causes[2].margin == pytest.approx(-1.0)


def test_the_next_step_is_the_first_advice_that_fits() -> None:
    low = [86, 86, 86, 86, 80, 78, 77]
    assert judge(measured(response=low), FILE).next_step == "Tweeter silent: check its leads."
    both = judge(measured(response=low, polarity__woofer=-0.9), FILE)
    assert both.next_step == "Woofer leads reversed: swap them at the woofer."
    high = [86, 86, 86, 95, 86, 86, 86]
    assert judge(measured(response=high), FILE).next_step == "Set aside for the listening check."


def test_advice_is_not_given_where_its_exception_holds() -> None:
    exception = 'unless = [{reading = "polarity.woofer"}]\nsay = "Tweeter silent'
    file = limit_file_from_text(LIMITS.replace('say = "Tweeter silent', exception), "x.toml")
    low = [86, 86, 86, 86, 86, 78, 77]
    assert judge(measured(response=low), file).next_step.startswith("Tweeter silent")
    both = judge(measured(response=low, polarity__woofer=-0.9), file)
    assert not any("Tweeter silent" in cause.advice for cause in both.causes)


def test_without_fitting_advice_the_worst_cause_is_told() -> None:
    judgement = judge(measured(sensitivity=88.5), FILE)
    assert judgement.next_step == (
        "Set the unit aside for rework. sensitivity is 88.5 dB, above its limit of 87.0 dB."
    )
    assert judgement.causes[0].advice == ""


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_reading_that_is_not_finite_voids_the_run(bad: float) -> None:
    assert judge(measured(sensitivity=bad), FILE).verdict is Verdict.VOID
    curve = [86.0, 86.0, bad, 86.0, 86.0, 86.0, 86.0]
    assert judge(measured(response=curve), FILE).verdict is Verdict.VOID


def test_a_missing_reading_voids_the_run_and_says_why() -> None:
    found = measured()
    numbers = {"polarity.woofer": GOOD.numbers["polarity.woofer"]}
    why = {"sensitivity": ("No test tone was heard.", "Check the microphone cable.")}
    readings = replace(found.readings, numbers=numbers, missing=why)
    judgement = judge(Measured(readings, ()), FILE)
    assert judgement.verdict is Verdict.VOID
    assert judgement.causes[0].side == "missing"
    assert judgement.next_step == "Check the microphone cable."


def test_an_absence_that_the_limit_file_calls_a_fault_fails_but_never_voids() -> None:
    text = LIMITS.replace("upper = 87.0\n", 'upper = 87.0\nabsent = "fail"\n')
    file = limit_file_from_text(text, "x.toml")
    numbers = {"polarity.woofer": GOOD.numbers["polarity.woofer"]}
    why = {"sensitivity": ("The unit is silent.", "Check the driver.")}
    readings = replace(GOOD, numbers=numbers, missing=why)
    judgement = judge(Measured(readings, ()), file)
    assert judgement.verdict is Verdict.FAIL
    assert judgement.causes[0].side == "missing"
    assert judgement.causes[0].advice == "Check the driver."
    unknown = replace(GOOD, numbers={"sensitivity": Number(math.nan, "dB"), **numbers})
    assert judge(Measured(unknown, ()), file).verdict is Verdict.VOID


anything = st.floats(allow_nan=True, allow_infinity=True, width=32)


@given(st.lists(anything, min_size=7, max_size=7), anything, anything)
def test_only_finite_readings_inside_every_limit_ever_pass(
    response: list[float], sensitivity: float, polarity: float
) -> None:
    judgement = judge(
        measured(response=response, sensitivity=sensitivity, polarity__woofer=polarity), FILE
    )
    inside = (
        all(80.0 <= value <= 90.0 for value in response)
        and 85.0 <= sensitivity <= 87.0
        and polarity >= 0.7
    )
    if judgement.verdict is Verdict.PASS:
        assert inside
    if not all(math.isfinite(value) for value in (*response, sensitivity, polarity)):
        assert judgement.verdict is Verdict.VOID
