"""A gauge study from its plan to its findings, on the screen, by keys alone."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from pathlib import Path

import pytest

from station.cli.quality.engineer import LogWorkshop, files_by_model
from station.cli.quality.gaugebench import BenchOptions, StationGaugeBench
from station.hardware.protocols.clock import SystemClock
from station.records.kept.gauge import GaugeStep
from station.records.log.gauges import GaugeLog
from station.records.log.log import RunLog
from station.screens.engineer.app import EngineerApp
from tests.cycle.line import LIMITS
from tests.records.example import STARTED
from tests.screens.test_engineer import LOOKS, Engineer

At = Callable[..., AbstractAsyncContextManager[Engineer]]
UNITS = ("S12A00017", "S12A00018")
FORM = (",".join(UNITS), "Ann, Ben", "2", "Q. Lind", "New fixture")


@pytest.fixture
def engineer_at(tmp_path: Path) -> At:
    @asynccontextmanager
    async def opened(
        size: tuple[int, int] = (80, 24), *, simulate: bool = True
    ) -> AsyncIterator[Engineer]:
        faults: list[BaseException] = []
        clock = SystemClock()
        with RunLog.open(tmp_path / "simulated") as log:
            workshop = LogWorkshop(
                log, files_by_model(LIMITS, None), clock, LOOKS, simulated=simulate
            )
            bench = StationGaugeBench(
                log, clock, BenchOptions(LIMITS, tmp_path, None, simulate=simulate, seed=1)
            )
            app = EngineerApp(workshop, bench, now_utc=STARTED, on_fault=faults.append)
            async with app.run_test(size=size) as pilot:
                await pilot.pause()
                yield Engineer(pilot)
            bench.let_go()
        assert faults == []

    return opened


async def fill(engineer: Engineer, answers: tuple[str, ...]) -> None:
    """Fill a form line by line."""
    for answer in answers:
        await engineer.pilot.press(*answer)
        await engineer.press("enter")


async def test_a_study_is_planned_guided_stopped_resumed_and_told(
    engineer_at: At, tmp_path: Path
) -> None:
    async with engineer_at() as engineer:
        await engineer.press("g")
        assert "No study was planned yet" in engineer.text
        await engineer.press("a")
        await fill(engineer, FORM)
        assert "0 of 8 measured" in engineer.text
        assert "scan your badge" in engineer.text
        first = first_step(tmp_path)
        other = "Ben" if first.operator == "Ann" else "Ann"
        await engineer.press(*other, "enter")
        assert f"it is the turn of {first.operator}" in engineer.text
        await engineer.press(*first.operator, "enter")
        assert f"{first.operator} puts in {first.serial}." in engineer.text
        wrong = next(unit for unit in UNITS if unit != first.serial)
        await engineer.press(*wrong, "enter")
        assert f"That is {wrong}; {first.serial} is due." in engineer.text
        assert "0 of 8 measured" in engineer.text
        await engineer.press(*first.serial, "enter")
        assert f"Measured: {first.serial} by {first.operator}" in engineer.text
        assert "1 of 8 measured" in engineer.text
        assert "◆" in engineer.text
        await engineer.press("escape")
        assert "1 of 8   New fixture" in engineer.text
    async with engineer_at((120, 36)) as engineer:
        await engineer.press("g", "enter")
        assert "1 of 8 measured" in engineer.text
        assert "scan your badge" in engineer.text  # whoever comes back shows it anew
        presses = 0
        while "The study is complete" not in engineer.text:
            await engineer.press("f5")
            presses += 1
            assert presses < 20
        assert "8 of 8 measured" in engineer.text
        await engineer.press("enter")
        assert "%GRR" in engineer.text
        assert "ndc" in engineer.text
        assert "sensitivity" in engineer.text
        await engineer.press("escape", "enter")
        assert "%GRR" in engineer.text  # a complete study shows what it found
    with RunLog.open(tmp_path / "simulated") as log:
        runs = GaugeLog(log).runs("G1")
        plan = GaugeLog(log).plans()[0]
        assert [runs[step.number].serial for step in plan.steps] == [
            step.serial for step in plan.steps
        ]


@pytest.mark.parametrize(
    ("place", "answer", "said"),
    [
        (0, "S12A00017", "A study needs 2 units or more."),
        (0, "S12A00017,T2A00001", "several models: Scree 12, Tarn 2"),
        (2, "two", "'two' is no number of repeats."),
        (3, "", "It is not said who plans the study."),
    ],
)
async def test_a_plan_that_shows_nothing_is_refused_in_a_sentence(
    engineer_at: At, place: int, answer: str, said: str
) -> None:
    answers = tuple(answer if at == place else given for at, given in enumerate(FORM))
    async with engineer_at() as engineer:
        await engineer.press("g", "a")
        await fill(engineer, answers)
        assert said in engineer.text
        await engineer.press("a")
        assert FORM[-1] in engineer.text  # nothing has to be typed again
        await engineer.press("escape", "escape")
        assert "What do you want to look at?" in engineer.text


async def test_without_a_bench_the_study_is_planned_but_not_begun(
    engineer_at: At, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)  # where no station file is
    async with engineer_at(simulate=False) as engineer:
        await engineer.press("g", "a")
        await fill(engineer, FORM)
        assert "There is no station file .station.toml." in engineer.text
        await engineer.press("f5", *"Ann", "enter")
        assert "There is no station file .station.toml." in engineer.text
        assert "0 of 8 measured" in engineer.text
        await engineer.press("escape")
        assert "0 of 8   New fixture" in engineer.text


def first_step(folder: Path) -> GaugeStep:
    with RunLog.open(folder / "simulated") as log:
        return GaugeLog(log).plans()[0].steps[0]
