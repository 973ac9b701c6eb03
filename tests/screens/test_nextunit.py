"""On a simulated line there is no label to scan: the screen says which unit waits."""

from __future__ import annotations

from tests.screens.conftest import At
from tests.screens.fakecycle import ANSWERS, FAIL_SERIAL, PASS_SERIAL, FakeCycle


class Row:
    """Units that wait, as long as the cycle has not tested them."""

    def __init__(self, cycle: FakeCycle, *serials: str) -> None:
        self._cycle = cycle
        self._serials = serials

    def __call__(self) -> str:
        return self._serials[len(self._cycle.ended)]


async def test_the_screen_says_which_unit_waits_and_never_starts_by_itself(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS)
    row = Row(cycle, PASS_SERIAL, FAIL_SERIAL)
    async with operator_at(cycle, simulated=True, next_unit=row) as operator:
        assert f"next: {PASS_SERIAL}   F5 types it" in operator.text
        await operator.pilot.press("f5")
        assert operator.entry.value == PASS_SERIAL
        await operator.settle()
        assert cycle.began == []
        await operator.pilot.press("enter")
        await operator.settle()
        assert cycle.began == [PASS_SERIAL]
        assert operator.word == "PASS"
        assert f"next: {FAIL_SERIAL}   F5 types it" in operator.text


async def test_the_key_adds_nothing_to_what_is_typed_already(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS)
    row = Row(cycle, PASS_SERIAL, FAIL_SERIAL)
    async with operator_at(cycle, simulated=True, next_unit=row) as operator:
        await operator.pilot.press("T", "2", "f5")
        assert operator.entry.value == "T2"


async def test_the_key_does_nothing_while_a_test_runs(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS, gate_open=False)
    row = Row(cycle, PASS_SERIAL, FAIL_SERIAL)
    async with operator_at(cycle, simulated=True, next_unit=row) as operator:
        await operator.scan(PASS_SERIAL)
        await operator.until_running(cycle)
        await operator.pilot.press("f5")
        assert operator.entry.value == ""
        cycle.gate.set()
        await operator.settle()
        assert operator.word == "PASS"


async def test_on_a_real_line_the_key_does_nothing(operator_at: At) -> None:
    async with operator_at(FakeCycle(ANSWERS)) as operator:
        await operator.pilot.press("f5")
        assert operator.entry.value == ""
        assert "F5" not in operator.text
