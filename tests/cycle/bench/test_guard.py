"""Nothing plays unless it is safe, and what plays falls silent when it no longer is."""

from __future__ import annotations

import threading
from contextlib import AbstractContextManager
from pathlib import Path

import numpy as np
import pytest

from station.cycle.bench.guard import guarded
from station.cycle.unit.report import Progress, Stage
from station.errors import FixtureError, RefusedInputError, StoppedError, UnsafeError
from station.judging.files.shelf import LimitShelf, shelved
from station.judging.verdicts.verdict import Verdict
from tests.cycle.lids import SERIAL, LidLine, lid_line, opened
from tests.cycle.line import LIMITS, run_unit, simulated_line

SWEEP_S = 1.6
TARN = shelved(LIMITS / "tarn2.toml")


def test_a_lid_opened_at_any_instant_silences_the_next_block_and_voids(tmp_path: Path) -> None:
    instants = np.random.default_rng(3).uniform(0.0, SWEEP_S, 20)
    with lid_line(tmp_path) as line:
        found = [opened(line, float(at_s)) for at_s in instants]
        stored = line.log.runs_of(SERIAL)
    assert {one.verdict for one in found} == {Verdict.VOID}
    assert {one.happened for one in found} == {"The fixture lid was opened while the sweep played."}
    assert max(one.late_blocks for one in found) == 1
    assert all(one.ends_in_silence for one in found)
    assert [run.judgement.verdict for run in stored] == [Verdict.VOID] * 20
    assert all(run.recording is None for run in stored)


def test_the_output_fades_out_and_never_jumps(tmp_path: Path) -> None:
    # In the sweep's first half second the sine moves slowly: below 300 Hz at 96 kHz a full-scale
    # sine steps by 2 pi 300 / 96000 = 0.02 at most, here at a fifth of full scale.
    with lid_line(tmp_path) as line:
        found = opened(line, 0.55)
    assert 0.0 < found.largest_step_ratio < 0.004


def test_a_lid_that_was_open_for_a_moment_only_voids_all_the_same(tmp_path: Path) -> None:
    with lid_line(tmp_path) as line:
        assert opened(line, 0.5, closed_s=0.501).verdict is Verdict.VOID


def test_a_lid_opened_in_the_last_block_voids(tmp_path: Path) -> None:
    with lid_line(tmp_path) as line:
        assert opened(line, SWEEP_S - 0.001).verdict is Verdict.VOID


def test_the_next_unit_is_tested_when_the_lid_is_closed_again(tmp_path: Path) -> None:
    with lid_line(tmp_path) as line:
        opened(line, 0.7)
        with pytest.raises(FixtureError, match="lid is open"):
            run_unit(line.cycle, SERIAL)
        line.twin.fixture.lid_open = False
        assert run_unit(line.cycle, SERIAL).final.judgement.verdict is Verdict.PASS


def test_a_lid_that_is_open_lets_nothing_begin(tmp_path: Path) -> None:
    with lid_line(tmp_path) as line:
        line.twin.fixture.lid_open = True
        entered = []
        with pytest.raises(FixtureError), guard(line, np.zeros(10), threading.Event()):
            entered.append(1)
        assert entered == []


def test_more_voltage_than_the_model_bears_is_refused_before_it_plays(tmp_path: Path) -> None:
    # 6 V of 20 V full scale is 0.3: the limit file's largest_peak_v.
    with lid_line(tmp_path) as line:
        with guard(line, np.array([0.0, -0.2999]), threading.Event()):
            pass
        with (
            pytest.raises(RefusedInputError, match=r"6\.02 V peak, and a Tarn 2 bears 6\.00 V"),
            guard(line, np.array([0.0, -0.301]), threading.Event()),
        ):
            raise AssertionError("it played")


def test_a_limit_file_whose_sweep_is_beyond_the_model_is_refused_when_it_is_used(
    tmp_path: Path,
) -> None:
    assert TARN.limits.safety is not None
    weaker = TARN.limits.safety.model_copy(update={"largest_peak_v": 4.0})
    limits = TARN.limits.model_copy(update={"safety": weaker})
    shelf = LimitShelf("limits", (type(TARN)(limits, TARN.text, TARN.name),))
    # 2.83 V RMS of a sine is 4.002 V peak.
    with simulated_line(tmp_path, {}, shelf=shelf) as (cycle, log):
        with pytest.raises(RefusedInputError, match=r"4\.00 V peak"):
            run_unit(cycle, SERIAL)
        assert log.runs_of(SERIAL) == ()


def test_what_was_unsafe_is_told_although_the_recording_became_whole(tmp_path: Path) -> None:
    with (
        lid_line(tmp_path) as line,
        pytest.raises(UnsafeError, match="was opened"),
        guard(line, np.zeros(10), threading.Event()),
    ):
        line.twin.fixture.open_lid()


def test_a_stop_by_a_person_stays_a_stop(tmp_path: Path) -> None:
    with (
        lid_line(tmp_path) as line,
        pytest.raises(StoppedError),
        guard(line, np.zeros(10), threading.Event()),
    ):
        raise StoppedError("The run was stopped.", "Scan again.")


def test_making_safe_in_mid_sweep_silences_and_cuts_the_unit_off(tmp_path: Path) -> None:
    with lid_line(tmp_path) as line:
        stop = threading.Event()

        def press(progress: Progress) -> None:
            if progress.stage is Stage.SWEEPING and progress.played_ratio > 0.3:
                stop.set()
                line.cycle.make_safe()

        with pytest.raises(StoppedError):
            line.cycle.test_unit(SERIAL, on_progress=press, stop=stop)
        assert not line.twin.fixture.powered
        (run,) = line.log.runs_of(SERIAL)
        assert run.judgement.verdict is Verdict.VOID


def guard(line: LidLine, output: np.ndarray, stop: threading.Event) -> AbstractContextManager[None]:
    return guarded(line.cycle._bench, TARN.limits, output, stop)


def test_what_follows_from_a_persons_stop_is_not_told_as_its_cause(tmp_path: Path) -> None:
    stop = threading.Event()

    def all_off(line: LidLine) -> None:
        stop.set()
        line.twin.fixture.open_lid()

    # The recording became whole; it is of a unit that was cut off, and must not be judged.
    with lid_line(tmp_path) as line, pytest.raises(StoppedError), guard(line, np.zeros(9), stop):
        all_off(line)
