"""The one line that names the suspect of a fail: after the verdict, never in its way."""

from __future__ import annotations

import pytest
from textual.widgets import Static

from station.diagnosis.named.suspect import Diagnosis, Estimate, Finding, Found, PartKind, Suspect
from tests.screens.conftest import At
from tests.screens.fakecycle import ANSWERS, FAIL_SERIAL, PASS_SERIAL, FakeCycle

ESTIMATE = Estimate(5.57e-6, 0.03e-6, 4.7e-6, 0.05, "F")
C2 = Suspect("C2", "the capacitor", PartKind.COMPONENT, Found.VALUE, 0.93, ESTIMATE)
L2 = Suspect("L2", "the coil", PartKind.COMPONENT, Found.OPEN, 0.07)
LINE = "Suspect: C2 reads 5.57 µF, nominal 4.7 µF ± 5 %"


def suspecting(finding: Finding = Finding.SUSPECTS, group: int = 1) -> FakeCycle:
    cycle = FakeCycle(ANSWERS)
    cycle.suspected = Diagnosis(finding, (C2, L2), group)
    return cycle


@pytest.mark.parametrize("size", [(80, 24), (120, 36)])
async def test_a_fail_names_its_suspect_beside_everything_else(
    operator_at: At, size: tuple[int, int]
) -> None:
    async with operator_at(suspecting(), size=size) as operator:
        await operator.test(FAIL_SERIAL)
        assert operator.word == "FAIL"
        assert LINE in operator.text
        assert "1 failed" in operator.text or "Failed      1" in operator.text


async def test_the_next_answer_has_no_suspect_of_the_last_one(operator_at: At) -> None:
    cycle = suspecting()
    async with operator_at(cycle) as operator:
        await operator.test(FAIL_SERIAL)
        await operator.test(PASS_SERIAL)
        assert "Suspect" not in operator.text
        assert not operator.app.operator_screen.query_one("#suspect", Static).display


async def test_nobody_is_suspected_where_nothing_was_found(operator_at: At) -> None:
    async with operator_at(suspecting(Finding.NOTHING)) as operator:
        await operator.test(FAIL_SERIAL)
        assert operator.word == "FAIL"
        assert "Suspect" not in operator.text


async def test_a_bug_in_the_diagnosis_leaves_the_verdict_standing(operator_at: At) -> None:
    cycle = suspecting()
    cycle.suspected = ZeroDivisionError("a bug")
    async with operator_at(cycle) as operator:
        await operator.test(FAIL_SERIAL)
        assert operator.word == "FAIL"
        assert "Suspect" not in operator.text
