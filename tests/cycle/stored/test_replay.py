"""An old verdict comes out again from the log alone, whatever lies in the limits folder since."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from station.cycle.stored.replay import replayed
from station.cycle.stored.storedlimits import limits_of_run
from station.errors import TextFileError
from station.judging.verdicts.verdict import Verdict
from tests.service.bench import limits_folder, works

GOOD, FAULTY = "T2A00301", "T2A00302"


def test_verdicts_come_out_again_without_any_limits_folder(tmp_path: Path) -> None:
    limits = limits_folder(tmp_path / "limits")
    with works(tmp_path, limits) as here:
        good, faulty = here.build(GOOD).final, here.build(FAULTY, dead_tweeter=1.0).final
        assert good.setup.pattern_text == pattern_in(limits)
        shutil.rmtree(limits)
        for serial, run in ((GOOD, good), (FAULTY, faulty)):
            stored = here.log.runs_of(serial)[-1]
            assert stored.setup.pattern_text == good.setup.pattern_text
            again = replayed(here.log, stored)
            assert (again.same, again.moved, again.why_not) == (True, (), "")
            assert again.again is not None
            assert again.again.verdict is run.judgement.verdict
    assert faulty.judgement.verdict is Verdict.FAIL


def test_one_population_is_stored_once(tmp_path: Path) -> None:
    limits = limits_folder(tmp_path / "limits")
    with works(tmp_path, limits) as here:
        text = here.build(GOOD).final.setup.pattern_text
        here.build(FAULTY)
        with here.log.reading() as connection:
            found = connection.execute("SELECT count(*) FROM texts WHERE text = ?", (text,))
            assert found.fetchone()[0] == 1
        assert here.log.chain_fault() is None


def test_a_run_from_before_finds_its_population_in_the_folder(tmp_path: Path) -> None:
    limits = limits_folder(tmp_path / "limits")
    with works(tmp_path, limits) as here:
        run = here.build(GOOD).final
        older = replace(run, run_id="older", setup=replace(run.setup, pattern_text=None))
        here.log.store(older)
        (*_, stored) = here.log.runs_of(GOOD)
        assert stored.setup.pattern_text is None
        assert limits_of_run(stored, [limits]).pattern_text == pattern_in(limits)
        assert replayed(here.log, stored, [limits]).same
        nowhere = replayed(here.log, stored, [tmp_path / "elsewhere"])
        assert nowhere.again is None
        assert "tarn2.pattern.json" in nowhere.why_not
        assert here.log.chain_fault() is None


def test_a_population_that_is_not_the_one_that_was_meant_judges_nothing(tmp_path: Path) -> None:
    limits = limits_folder(tmp_path / "limits")
    with works(tmp_path, limits) as here:
        run = here.build(GOOD).final
    assert run.setup.pattern_text is not None
    other = run.setup.pattern_text.replace("1", "2", 1)
    with pytest.raises(TextFileError, match="is not the file that was meant"):
        limits_of_run(replace(run, setup=replace(run.setup, pattern_text=other)), [limits])


def test_a_recording_that_is_gone_is_said(tmp_path: Path) -> None:
    limits = limits_folder(tmp_path / "limits")
    with works(tmp_path, limits) as here:
        run = here.build(GOOD).final
        assert run.recording is not None
        here.log.path_of(run.recording).unlink()
        gone = replayed(here.log, run)
        assert gone.again is None
        assert gone.why_not.startswith("There is no recording")
        none = replayed(here.log, replace(run, recording=None))
        assert none.why_not == "It kept no recording."


def pattern_in(limits: Path) -> str:
    return (limits / "tarn2.pattern.json").read_text(encoding="utf-8")
