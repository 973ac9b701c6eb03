"""A quality engineer's whole day, by commands and the screen's keys, on simulated hardware.

Limits are learned, tried, moved by hand, released with a signature; production is watched, an
alarm is raised, and the gauge is studied.
"""

from __future__ import annotations

import json
import shutil
import threading
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from station.cli.line.demo import ignore
from station.cli.quality.engineer import LogWorkshop, Looks, files_by_model
from station.cli.quality.gaugebench import BenchOptions, StationGaugeBench
from station.cli.shared.exitcodes import Exit
from station.cli.wiring.wiring import ready_cycle, simulated_bench
from station.hardware.protocols.clock import SystemClock
from station.judging.files.limit_file import limit_file
from station.records.log.log import RunLog
from station.screens.engineer.app import EngineerApp
from tests.cli.works import ENGINEER, Works
from tests.screens.test_engineer import Engineer

REFERENCE = "S12A00000"
GOOD, AGED_UNITS, AGED_DB = 20, 12, 1.0
AGED: Mapping[str, float] = {"station_aged_microphone": AGED_DB}
CHARTS = ("--subgroup", "2", "--baseline", "20", "--reference", REFERENCE)
LOOKS = Looks(subgroup=2, baseline=20, references=(REFERENCE,))


def produced(works: Works, first: int, count: int, faults: Mapping[str, float]) -> None:
    """Test units one after another; the reference unit comes round every sixth time."""
    with (
        simulated_bench(1, lambda _: faults, paced=False) as bench,
        ready_cycle(bench, works.limits, works.folder / "logs") as cycle,
    ):
        for n in range(first, first + count):
            serials = [f"S12A{1000 + n:05d}"]
            for serial in [REFERENCE, *serials] if n % 6 == 0 else serials:
                cycle.test_unit(serial, on_progress=ignore, stop=threading.Event())


@asynccontextmanager
async def engineer_of(works: Works, draft: Path | None) -> AsyncIterator[Engineer]:
    """Open the engineer's screen as `station engineer --simulate` does."""
    faults: list[BaseException] = []
    clock, logs = SystemClock(), works.folder / "logs"
    with RunLog.open(logs / "simulated") as log:
        files = files_by_model(works.limits, draft)
        bench = StationGaugeBench(
            log, clock, BenchOptions(works.limits, logs, None, simulate=True, seed=1)
        )
        workshop = LogWorkshop(log, files, clock, LOOKS, simulated=True)
        app = EngineerApp(workshop, bench, now_utc=clock.utc_now(), on_fault=faults.append)
        async with app.run_test(size=(120, 36)) as pilot:
            await pilot.pause()
            yield Engineer(pilot)
        bench.let_go()
    assert faults == []


async def test_from_learned_limits_to_a_gauge_study(
    works: Works, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(works.folder)
    assert works.release(works.limits / "scree12.toml", works.key).code == Exit.PASS
    produced(works, 0, GOOD, {})
    learned = limits_learned_and_tried(works)
    moved = await limits_moved_by_hand(works, learned)
    limits_released_and_used(works, moved)
    produced(works, GOOD, AGED_UNITS, AGED)  # the microphone of the station ages
    drift_found_by_commands(works)
    await drift_seen_and_gauge_studied(works)
    yields = json.loads(works.run("watch", "yield", "--by", "model", *CHARTS, "--json").out)
    assert yields["left_out"] == {"trials": 0, "gauge": 8, "service": 0, "check": 0}
    assert sum(one["units"] for one in yields["periods"]) == GOOD + AGED_UNITS + 1
    assert works.run("verify-log").code == Exit.PASS


def limits_learned_and_tried(works: Works) -> Path:
    """Learn a draft from the units of the log, and ask what it would have said of them."""
    base, learned = works.limits / "scree12.toml", works.folder / "drafts" / "b.toml"
    said = works.run(
        "limits", "learn", base, learned, "--revision", "B", "--holds-from", "S12A01100",
        "--author", ENGINEER, "--reason", "Learned from the first batch.",
    )  # fmt: skip
    assert said.code == Exit.PASS
    assert "a draft; it decides nothing until it is released" in said.out
    (tried,) = works.run("limits", "try", learned, "--json").runs()
    assert tried["units"] == GOOD + 1  # the reference unit is one of the model
    assert tried["after"]["pass"] == GOOD + 1
    return learned


async def limits_moved_by_hand(works: Works, learned: Path) -> Path:
    """Move one breakpoint up by a step on the screen, and save that as another draft."""
    async with engineer_of(works, learned) as engineer:
        await engineer.press("enter")
        assert "limit 1 of" in engineer.text
        await engineer.press("up", "s", "enter")
        assert "Saved as" in engineer.text
    (moved,) = (works.folder / "drafts").glob("*-draft.toml")
    before, after = limit_file(learned)[0], limit_file(moved)[0]
    assert after.bands[0].points[0][2] > before.bands[0].points[0][2]
    assert after.bands[0].points[1:] == before.bands[0].points[1:]
    return moved


def limits_released_and_used(works: Works, draft: Path) -> None:
    """Put a draft among the limits: nothing is judged by it before it is signed."""
    for path in draft.parent.glob("*.json"):
        shutil.copy(path, works.limits)
    new = works.limits / "scree12-b.toml"
    shutil.copy(draft, new)
    unsigned = works.test("S12A01100")
    assert unsigned.code == Exit.REFUSED
    assert "scree12-b.toml is not released" in unsigned.err
    assert works.release(new, works.key).code == Exit.PASS
    (run,) = works.test("S12A01100", "--json").runs()
    assert run["revision"] == "B"


def drift_found_by_commands(works: Works) -> None:
    """Find that the station moved, not the product, and how well the curves fit their limits."""
    told = json.loads(works.run("watch", "alarms", *CHARTS, "--json").out)
    level = next(one for one in told["alarms"] if one["reading"] == "sensitivity")
    assert level["moved"] == pytest.approx(-AGED_DB, abs=0.25)
    assert level["drift"]["moved"] == "station"
    capable = json.loads(works.run("watch", "capability", *CHARTS, "--json").out)
    assert {one["reading"] for one in capable["curves"]} >= {"response", "thd"}
    indices = [one["ppk"]["value"] for one in capable["curves"]]
    assert capable["worst"]["ppk"]["value"] == min(indices)
    assert works.run("watch", "page", works.folder / "watch.html", *CHARTS).code == Exit.PASS


async def drift_seen_and_gauge_studied(works: Works) -> None:
    """See the alarm on the screen, then plan a gauge study there and carry it out."""
    async with engineer_of(works, None) as engineer:
        await engineer.press("enter", "3")
        assert "ALARM  Scree 12: " in engineer.text
        assert "It is the station" in engineer.text
        await engineer.press("g", "a")
        for answer in ("S12A01001,S12A01002", "Ann,Ben", "2", ENGINEER, "After the drift"):
            await engineer.pilot.press(*answer)
            await engineer.press("enter")
        for _ in range(16):  # eight measurements, and a badge for every change of operator
            if "The study is complete" not in engineer.text:
                await engineer.press("f5")
        assert "The study is complete" in engineer.text
        await engineer.press("enter")
        assert "%GRR" in engineer.text
    assert "complete" in works.run("gauge", "measure", "G1", "--limits-folder", works.limits).out
