"""The engineer at the keyboard: from the choice of a model to a draft in a file."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from textual.pilot import Pilot
from textual.worker import WorkerFailed

from station.cli.quality.engineer import LogWorkshop, Looks, files_by_model
from station.cli.quality.gaugebench import BenchOptions, StationGaugeBench
from station.errors import RecordsError
from station.hardware.protocols.clock import SystemClock
from station.judging.files.limit_file import limit_file
from station.quality.watching.curves import CurvePoint
from station.quality.watching.watched import Watched
from station.quality.whatif.draft import Draft
from station.records.log.log import RunLog
from station.records.summaries.runlist import Period
from station.screens.engineer.app import EngineerApp
from station.screens.engineer.views import VIEWS
from tests.judging.example import LIMITS
from tests.quality.biglog import fill_log
from tests.quality.populations import smooth_readings
from tests.quality.storedunits import stored
from tests.records.example import STARTED

LOOKS = Looks(subgroup=5, baseline=100)
SIZES = [(80, 24), (120, 36)]


class Engineer:
    """Somebody who reads the screen and presses keys."""

    def __init__(self, pilot: Pilot[None]) -> None:
        self.pilot = pilot
        assert isinstance(pilot.app, EngineerApp)
        self.app: EngineerApp = pilot.app

    async def press(self, *keys: str) -> None:
        """Press keys one by one, each when all that the one before asked for has been done."""
        for key in keys:
            await self.pilot.press(key)
            await self.pilot.pause()
            if list(self.app.workers):
                await self.app.workers.wait_for_complete()
            for _ in range(3):  # what a worker posted, the screen it puts up, and that one's draw
                await self.pilot.pause()

    @property
    def lines(self) -> list[str]:
        return [strip.text.rstrip() for strip in self.app.screen._compositor.render_strips()]

    @property
    def text(self) -> str:
        return "\n".join(self.lines)


def no_bench(log: RunLog, folder: Path) -> StationGaugeBench:
    """Return a bench that nobody takes."""
    options = BenchOptions(folder / "limits", folder, None, simulate=True, seed=1)
    return StationGaugeBench(log, SystemClock(), options)


At = Callable[..., AbstractAsyncContextManager[Engineer]]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A log of 300 units, a limit file, and the working folder of the engineer."""
    fill_log(tmp_path / "logs", stored(smooth_readings(np.random.default_rng(41), 300, 0.6)))
    (tmp_path / "limits").mkdir()
    (tmp_path / "limits" / "tarn.toml").write_text(LIMITS)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def engineer_at(folder: Path) -> At:
    @asynccontextmanager
    async def opened(size: tuple[int, int] = (80, 24)) -> AsyncIterator[Engineer]:
        faults: list[BaseException] = []
        with RunLog.open(folder / "logs") as log:
            files = files_by_model(folder / "limits", None)
            workshop = LogWorkshop(log, files, SystemClock(), LOOKS, simulated=True)
            app = EngineerApp(
                workshop, no_bench(log, folder), now_utc=STARTED, on_fault=faults.append
            )
            async with app.run_test(size=size) as pilot:
                await pilot.pause()
                yield Engineer(pilot)
        assert faults == []

    return opened


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x36"])
async def test_from_the_choice_to_a_saved_draft(
    engineer_at: At, folder: Path, size: tuple[int, int]
) -> None:
    async with engineer_at(size) as engineer:
        assert "Tarn 2" in engineer.text
        await engineer.press("enter")
        assert "300 units, 2026-01-03" in engineer.text
        assert "SIMULATED" in engineer.text
        assert "response, absolute: limit 1 of 3" in engineer.text
        assert "Flips: 0 would fail and did not, 0 would pass" in engineer.text
        await engineer.press("right", "pagedown", "pagedown")  # 88 dB at 1 kHz becomes 86 dB
        assert "upper limit at 1 kHz (2 of 3): 86 dB" in engineer.text
        assert "▲" in engineer.text
        assert "Flips: 0 would fail" not in engineer.text
        await engineer.press("s")
        await engineer.press("enter")
        assert "Saved as" in engineer.text
    limits, text = limit_file(folder / "drafts" / "tarn-A-draft.toml")
    assert limits.bands[0].points[1] == (1000.0, 84.0, 86.0)
    assert "changed by hand" in text


async def test_every_key_of_the_limits_does_what_it_says(engineer_at: At) -> None:
    async with engineer_at() as engineer:
        await engineer.press("enter")
        desk = engineer.app.desk
        assert desk is not None
        await engineer.press("a")
        assert "(2 of 4)" in engineer.text
        await engineer.press("up")
        assert "(changed)" in engineer.text
        await engineer.press("d")
        assert "(1 of 3)" in engineer.text or "(2 of 3)" in engineer.text
        await engineer.press("u", "u", "u")
        assert desk.draft.changed == frozenset()
        await engineer.press("u")
        assert "nothing to undo" in engineer.text
        await engineer.press("tab")
        assert "lower limit" in engineer.text
        await engineer.press("n")
        assert "sensitivity, number: limit 2 of 3" in engineer.text
        assert "█" in engineer.text
        await engineer.press("pagedown")
        assert "lower limit: 85 dB" not in engineer.text
        await engineer.press("a")
        assert "no breakpoints" in engineer.text
        await engineer.press("p", "p")
        assert "polarity.woofer" in engineer.text
        await engineer.press("tab", "up")
        assert "no upper limit" in engineer.text


async def test_a_unit_is_opened_with_what_it_fails_by(engineer_at: At) -> None:
    async with engineer_at() as engineer:
        await engineer.press("enter", "right", "pagedown", "pagedown", "2")
        assert "pass → FAIL" in engineer.text
        assert "response is" in engineer.text
        assert "▲" in engineer.text
        first = next(line for line in engineer.lines if "tested: pass" in line)
        await engineer.press("down")
        second = next(line for line in engineer.lines if "tested: pass" in line)
        assert first != second
        await engineer.press("1")
        assert "upper limit at 1 kHz" in engineer.text


async def test_unsaved_changes_are_not_lost_without_a_word(engineer_at: At) -> None:
    async with engineer_at() as engineer:
        await engineer.press("enter", "s")
        assert "Nothing was changed" in engineer.text
        await engineer.press("up", "ctrl+q")
        assert "not saved" in engineer.text
        await engineer.press("n", "c", "y")
        assert "What do you want to look at?" in engineer.text
        await engineer.press("enter")
        assert "Flips: 0 would fail" in engineer.text


async def test_a_period_without_runs_is_told_in_a_sentence(folder: Path) -> None:
    with RunLog.open(folder / "logs") as log:
        workshop = LogWorkshop(
            log, files_by_model(folder / "limits", None), SystemClock(), LOOKS, simulated=True
        )
        year_later = STARTED + timedelta(days=365)
        app = EngineerApp(
            workshop, no_bench(log, folder), now_utc=year_later, on_fault=lambda error: None
        )
        async with app.run_test() as pilot:
            await pilot.pause()
            engineer = Engineer(pilot)
            await engineer.press("tab", "end", "enter")
            assert "no such run" in engineer.text
            await engineer.press("home", "enter")
            assert "300 units" in engineer.text


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x36"])
async def test_what_has_moved_is_said_and_charted(engineer_at: At, size: tuple[int, int]) -> None:
    async with engineer_at(size) as engineer:
        await engineer.press("enter", "3")
        assert "Nothing has moved" in engineer.text
        assert "3 watch" in engineer.text
        assert "sensitivity in dB, weighted means (1 of 1)" in engineer.text
        assert sum(line.count("•") for line in engineer.lines) > 50
        assert "╌" in engineer.text
        await engineer.press("n", "k")
        assert "sensitivity in dB, single units (1 of 1)" in engineer.text
        await engineer.press("1")
        assert "limit 1 of 3" in engineer.text


async def test_a_curve_is_charted_at_the_frequency_that_is_asked_for(engineer_at: At) -> None:
    async with engineer_at() as engineer:
        await engineer.press("enter", "right", "3", "f")
        assert "response@1000" in engineer.text  # the breakpoint that was chosen among the limits
        await engineer.press("enter")
        assert "response at 1 kHz in dB, weighted means (2 of 2)" in engineer.text
        await engineer.press("f", "end", "0", "enter")
        assert "No band judges a curve 'response' at 10000 Hz" not in engineer.text
        assert "response at 10 kHz in dB" in engineer.text
        await engineer.press("f", "end", "0", "enter")
        assert "No band judges a curve 'response' at 100000 Hz." in engineer.text
        assert "response at 10 kHz in dB" in engineer.text  # what was charted stays


def test_every_view_has_a_key_of_its_own() -> None:
    assert len({view.key for view in VIEWS}) == len(VIEWS)


async def test_a_draft_is_never_written_over_another(engineer_at: At, folder: Path) -> None:
    (folder / "drafts").mkdir()
    (folder / "drafts" / "tarn-A-draft.toml").write_text("mine")
    async with engineer_at() as engineer:
        await engineer.press("enter", "up", "s", "enter")
        assert "never written over another" in engineer.text
        await engineer.press("s", "escape")
        assert "Saved" not in engineer.text
    assert (folder / "drafts" / "tarn-A-draft.toml").read_text() == "mine"


class BrokenWorkshop:
    """A workshop whose log cannot be read, or that has a bug."""

    simulated = False

    def __init__(self, error: Exception) -> None:
        self.error = error

    def models(self) -> tuple[str, ...]:
        return ("Tarn 2",)

    def opened(self, model: str, period: Period) -> Draft:
        raise self.error

    def watched(self, model: str, period: Period, points: tuple[CurvePoint, ...]) -> Watched:
        raise AssertionError

    def suggested_name(self, draft: Draft) -> str:
        raise AssertionError

    def saved(self, draft: Draft, name: str) -> Path:
        raise AssertionError


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (RecordsError("The log is damaged.", "Take the last copy."), "The log is damaged."),
        (ZeroDivisionError("a bug"), "program has a fault"),
    ],
)
async def test_a_log_that_cannot_be_read_leaves_the_screen_alive(
    tmp_path: Path, error: Exception, told: str
) -> None:
    faults: list[BaseException] = []
    with RunLog.open(tmp_path) as log:
        gauges = no_bench(log, tmp_path)
    app = EngineerApp(BrokenWorkshop(error), gauges, now_utc=STARTED, on_fault=faults.append)
    async with app.run_test() as pilot:
        await pilot.pause()
        await pilot.press("enter")
        with contextlib.suppress(WorkerFailed):  # the screen's own handler is looked at
            await app.workers.wait_for_complete()
        for _ in range(3):
            await pilot.pause()
        assert told in Engineer(pilot).text
    assert len(faults) == (not isinstance(error, RecordsError))
