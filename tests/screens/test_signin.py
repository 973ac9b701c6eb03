"""Operators sign in by scanning a badge on the same screen, and are seen to be at work."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from station.cycle.allowed.authority import Authority
from station.cycle.allowed.operatordesk import OperatorDesk
from station.cycle.allowed.people import enrol, remove
from station.cycle.allowed.roster import Role
from station.records.kept.roleact import Act
from station.records.log.log import RunLog
from station.screens.line.app import OperatorApp
from tests.cycle.line import SteadyClock
from tests.screens.driving import Operator
from tests.screens.fakecycle import ANSWERS, PASS_SERIAL, PASSED, FakeCycle, report

BADGE, OTHER_BADGE, NO_BADGE = "OP-0417", "OP-0418", "OP-9999"
SIZES = [(80, 24), (120, 36)]


class DeskCycle(FakeCycle):
    """A cycle that asks who is at work, as the real one does."""

    def __init__(self, desk: OperatorDesk) -> None:
        super().__init__(ANSWERS)
        self.desk = desk
        self.tested_by: list[str] = []

    def test_unit(self, serial, **how):
        self.tested_by.append(self.desk.at_work().name)
        return super().test_unit(serial, **how)


class Shift:
    """A log with two operators and an engineer, and the desk they sign in at."""

    def __init__(self, log: RunLog) -> None:
        numbers = itertools.count()
        self.log = log
        self.authority = Authority(log, SteadyClock(), lambda: f"a{next(numbers)}")
        people = (("I. Thwaite", Role.ENGINEER, "EN-1"), ("J. Moor", Role.OPERATOR, BADGE))
        by = None
        for name, role, badge in (*people, ("K. Low", Role.OPERATOR, OTHER_BADGE)):
            enrol(self.authority, name, role, badge=badge, pin="471199", by=by)
            by = self.authority.roster().people["I. Thwaite"]
        self.desk = OperatorDesk(self.authority, "[A-Z]{2}-[0-9]+")
        self.cycle = DeskCycle(self.desk)

    def app(self, **more: bool) -> OperatorApp:
        return OperatorApp(
            self.cycle,
            station_name="Line 1",
            simulated=False,
            on_fault=self.fault,
            desk=self.desk,
            **more,
        )

    def fault(self, error: BaseException) -> None:
        raise error

    def acts(self) -> list[tuple[str, str]]:
        return [(act.act.value, act.person) for act in self.log.role_acts()[3:]]


@pytest.fixture
def shift(tmp_path: Path) -> Iterator[Shift]:
    with RunLog.open(tmp_path) as log:
        yield Shift(log)


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x36"])
async def test_a_badge_first_then_units(shift: Shift, size: tuple[int, int]) -> None:
    async with shift.app().run_test(size=size) as pilot:
        operator = Operator(pilot)
        await operator.settle()
        assert operator.word == "SCAN"
        assert "Scan your badge." in operator.text
        assert "nobody signed in" in operator.lines[0]
        await operator.test(BADGE)
        assert operator.word == "SCAN"
        assert "J. Moor has signed in." in operator.text
        assert "J. Moor" in operator.lines[0]
        assert "F8 all off" in operator.lines[0]
        await operator.test(PASS_SERIAL)
        assert operator.word == "PASS"
        assert "J. Moor" in operator.lines[0]
    assert shift.cycle.tested_by == ["J. Moor"]


async def test_a_unit_before_any_badge_is_not_tested(shift: Shift) -> None:
    async with shift.app().run_test() as pilot:
        operator = Operator(pilot)
        await operator.test(PASS_SERIAL)
        assert operator.word == "BADGE"
        assert "Scan your badge, then the unit." in operator.text
    assert shift.cycle.began == []


async def test_an_unknown_badge_is_refused_and_logged(shift: Shift) -> None:
    async with shift.app().run_test() as pilot:
        operator = Operator(pilot)
        await operator.test(NO_BADGE)
        assert operator.word == "BADGE"
        assert "The badge OP-9999 belongs to nobody who is enrolled." in operator.text
        assert "nobody signed in" in operator.lines[0]
    assert shift.acts() == [("refused", "")]


async def test_the_next_badge_relieves_the_one_before_and_f4_signs_out(shift: Shift) -> None:
    async with shift.app().run_test() as pilot:
        operator = Operator(pilot)
        for badge in (BADGE, BADGE, OTHER_BADGE):
            await operator.test(badge)
        assert "K. Low" in operator.lines[0]
        await operator.test(PASS_SERIAL)
        await pilot.press("f4")
        await operator.settle()
        assert operator.word == "SCAN"  # no answer of hers is left up
        assert "nobody signed in" in operator.lines[0]
        await operator.test(PASS_SERIAL)
        assert operator.word == "BADGE"
    assert shift.cycle.tested_by == ["K. Low"]
    assert shift.acts() == [
        (Act.SIGNED_IN, "J. Moor"),
        (Act.SIGNED_OUT, "J. Moor"),
        (Act.SIGNED_IN, "K. Low"),
        (Act.SIGNED_OUT, "K. Low"),
    ]


async def test_who_was_removed_meanwhile_tests_no_more(shift: Shift) -> None:
    async with shift.app().run_test() as pilot:
        operator = Operator(pilot)
        await operator.test(BADGE)
        engineer = shift.authority.roster().people["I. Thwaite"]
        remove(shift.authority, "J. Moor", engineer)
        await operator.test(PASS_SERIAL)
        assert operator.word == "BADGE"
        assert "J. Moor is no longer enrolled." in operator.text
        assert "nobody signed in" in operator.lines[0]


async def test_badge_and_unit_in_one_burst_test_nobodys_unit(shift: Shift) -> None:
    async with shift.app().run_test() as pilot:
        operator = Operator(pilot)
        await operator.settle()
        await operator.scan(f"{BADGE}\n{PASS_SERIAL}")
        await operator.settle()
        assert "J. Moor" in operator.lines[0]
        assert shift.cycle.tested_by in ([], ["J. Moor"])


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x36"])
async def test_a_trial_never_shows_a_pass(shift: Shift, size: tuple[int, int]) -> None:
    await_trial = report(PASS_SERIAL, PASSED)
    runs = tuple(replace(run, trial=True) for run in await_trial.runs)
    cycle = FakeCycle({PASS_SERIAL: replace(await_trial, runs=runs)})
    app = OperatorApp(
        cycle, station_name="Line 1", simulated=True, on_fault=shift.fault, trial=True
    )
    async with app.run_test(size=size) as pilot:
        operator = Operator(pilot)
        await operator.test(PASS_SERIAL)
        assert operator.word == "TRIAL"
        assert "TRIAL" in operator.lines[0]
        assert "it is no result of the unit" in operator.text
        assert "The limits on trial say PASS" in operator.text


async def test_the_help_fits_a_small_terminal(shift: Shift) -> None:
    async with shift.app().run_test(size=(80, 24)) as pilot:
        operator = Operator(pilot)
        await pilot.press("f1")
        await pilot.pause()
        for words in ("1  Put the unit", "F4 signs out", "with a licence.", "F1 or Esc closes"):
            assert words in operator.text
