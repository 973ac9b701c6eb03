"""Whole tests of a unit with the fixture on a serial port, and what happens when it fails."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest

from station.cycle.unit.report import Progress, ProgressCallback, Stage
from station.errors import FixtureError
from station.judging.verdicts.verdict import Verdict
from tests.cycle.line import run_unit
from tests.cycle.wiredline import WiredLine, wired_line

GOOD = "T2A00101"


@pytest.fixture(scope="module")
def line(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WiredLine]:
    with wired_line(tmp_path_factory.mktemp("line"), paced=True, answer_limit_s=0.2) as running:
        yield running


def in_mid_sweep(line: WiredLine, *words: str) -> ProgressCallback:
    """Return what does something to the fixture once, a third of the way through the sweep."""
    left = list(words)

    def on_progress(progress: Progress) -> None:
        if progress.stage is Stage.SWEEPING and progress.played_ratio > 0.3:
            while left:
                line.bench.tell(left.pop(0))

    return on_progress


def troubled(line: WiredLine, *words: str) -> tuple[Verdict, str]:
    report = line.cycle.test_unit(
        GOOD, on_progress=in_mid_sweep(line, *words), stop=threading.Event()
    )
    return report.final.judgement.verdict, report.final.judgement.causes[0].happened


def test_a_good_unit_passes(line: WiredLine) -> None:
    assert run_unit(line.cycle, GOOD).final.judgement.verdict is Verdict.PASS


@pytest.mark.parametrize("words", [("open",), ("open unheard",), ("open unheard", "close")])
def test_an_opened_lid_voids_and_the_next_unit_passes(
    line: WiredLine, words: tuple[str, ...]
) -> None:
    assert troubled(line, *words) == (
        Verdict.VOID, "The fixture lid was opened while the sweep played.",
    )  # fmt: skip
    line.bench.tell("close")
    assert run_unit(line.cycle, GOOD).final.judgement.verdict is Verdict.PASS


@pytest.mark.parametrize(
    ("trouble", "mended"),
    [("unplug fixture", "plug fixture"), ("line fixture silent 0", "line fixture clean 0")],
)
def test_a_fixture_lost_in_mid_sweep_leaves_a_stored_void_and_comes_back(
    line: WiredLine, trouble: str, mended: str
) -> None:
    before = len(line.log.runs_of(GOOD))
    # It cannot be let go either, and that is what the operator must hear.
    with pytest.raises(FixtureError):
        troubled(line, trouble)
    stored = line.log.runs_of(GOOD)
    assert len(stored) == before + 1
    assert stored[-1].judgement.verdict is Verdict.VOID
    with pytest.raises(FixtureError):
        run_unit(line.cycle, GOOD)
    line.bench.tell(mended)
    assert run_unit(line.cycle, GOOD).final.judgement.verdict is Verdict.PASS
    assert len(line.log.runs_of(GOOD)) == before + 2


def test_garbage_and_doubled_answers_change_no_verdict(line: WiredLine) -> None:
    for fault in ("garbage", "doubled"):
        line.bench.tell(f"line fixture {fault} 0")
        assert run_unit(line.cycle, GOOD).final.judgement.verdict is Verdict.PASS
    line.bench.tell("line fixture clean 0")
