"""The key that switches everything off works at any time, and nothing goes on by itself."""

from __future__ import annotations

import threading

import pytest

from station.cycle.unit.report import Progress, ProgressCallback, Stage, UnitReport
from station.errors import FixtureError
from station.screens.line.app import OperatorApp
from station.screens.shared import wording
from tests.screens.conftest import At
from tests.screens.driving import Operator
from tests.screens.fakecycle import ANSWERS, PASS_SERIAL, FakeCycle


async def test_in_mid_sweep_everything_goes_off_and_stays_off_until_the_operator_goes_on(
    operator_at: At,
) -> None:
    cycle = FakeCycle(ANSWERS, until_stopped=True)
    async with operator_at(cycle) as operator:
        await operator.scan(PASS_SERIAL)
        await operator.until_running(cycle)
        await operator.pilot.press("f8")
        await operator.settle()
        assert cycle.made_safe == 1
        assert cycle.ended == [PASS_SERIAL]
        assert operator.word == "STOP"
        assert wording.ALL_OFF_GO_ON in operator.text
        assert operator.entry.disabled
        await operator.scan(PASS_SERIAL)
        await operator.settle()
        assert cycle.began == [PASS_SERIAL]
        await operator.pilot.press("f8")
        await operator.settle()
        assert operator.word == "SCAN"
        assert not operator.entry.disabled
        assert cycle.made_safe == 1


@pytest.mark.parametrize("key", ["f1", "ctrl+q"])
async def test_it_works_with_help_or_a_question_open(operator_at: At, key: str) -> None:
    cycle = FakeCycle(ANSWERS, until_stopped=True)
    async with operator_at(cycle) as operator:
        await operator.scan(PASS_SERIAL)
        await operator.until_running(cycle)
        await operator.pilot.press(key)
        await operator.pilot.press("f8")
        await operator.settle()
        assert cycle.made_safe == 1
        assert wording.ALL_OFF_GO_ON in operator.text


async def test_it_works_between_units_and_hides_the_last_answer(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS)
    async with operator_at(cycle) as operator:
        await operator.test(PASS_SERIAL)
        await operator.pilot.press("f8")
        await operator.settle()
        assert operator.word == "STOP"
        assert wording.ALL_OFF in operator.text


async def test_a_fixture_that_cannot_be_told_is_said_so(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS)
    cycle.unsafe = FixtureError("The fixture does not answer.", "Check its cable.")
    async with operator_at(cycle) as operator:
        await operator.pilot.press("f8")
        await operator.settle()
        assert operator.word == "STATION"
        assert wording.USE_THE_SWITCH in operator.text
        assert "The fixture does not answer." in operator.text


async def test_a_bug_on_the_way_is_not_taken_for_off(operator_at: At) -> None:
    cycle = FakeCycle(ANSWERS)
    cycle.unsafe = ZeroDivisionError("a bug")
    async with operator_at(cycle) as operator:
        await operator.pilot.press("f8")
        await operator.settle()
        assert operator.word == "STATION"
        assert wording.USE_THE_SWITCH in operator.text


class Labels:
    """A scanner on a port: hands over a label when the test lets it."""

    def __init__(self, *labels: str) -> None:
        self.labels = list(labels)
        self.ready = threading.Semaphore(0)
        self.over = False

    def next_serial(self) -> str | None:
        assert self.ready.acquire(timeout=30.0)
        return None if self.over else self.labels.pop(0)

    def end(self) -> None:
        self.over = True
        self.ready.release()


async def test_a_scanner_on_a_port_starts_tests_and_is_ended_with_the_program() -> None:
    cycle = FakeCycle(ANSWERS)
    scanner = Labels(PASS_SERIAL)
    app = OperatorApp(
        cycle, station_name="Line 1", simulated=False, on_fault=print, scanner=scanner
    )
    async with app.run_test(size=(80, 24)) as pilot:
        operator = Operator(pilot)
        await pilot.pause()
        scanner.ready.release()
        await operator.until(cycle.running)
        while operator.word != "PASS":
            await pilot.pause()
    assert scanner.over


async def test_a_loud_station_says_so_as_long_as_it_is_on() -> None:
    app = OperatorApp(
        FakeCycle(ANSWERS), station_name="Line 1", simulated=True, on_fault=print, ears_db_spl=91.6
    )
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "PROTECT EARS 92 dB" in Operator(pilot).text
        assert "F8 all off" in Operator(pilot).text


class WaitingCycle(FakeCycle):
    """A cycle whose fixture has a start button."""

    def test_unit(
        self, serial: str, *, on_progress: ProgressCallback, stop: threading.Event
    ) -> UnitReport:
        on_progress(Progress(Stage.WAITING, 1, ears_db_spl=91.6))
        self.running.set()
        assert self.gate.wait(30.0)
        return super().test_unit(serial, on_progress=on_progress, stop=stop)


async def test_a_fixture_with_a_button_asks_the_operator_to_start(operator_at: At) -> None:
    cycle = WaitingCycle(ANSWERS, gate_open=False)
    async with operator_at(cycle) as operator:
        await operator.scan(PASS_SERIAL)
        await operator.until_running(cycle)
        assert operator.word == "START"
        assert f"{wording.PRESS_START} Protect ears: 92 dB SPL." in operator.text
        cycle.gate.set()
        await operator.settle()
        assert operator.word == "PASS"
