"""The line repeats what the room failed, and fails a rubbing unit whatever the room does."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from station.cycle.trials.trial import Order, Trial, judged, order_for, trials
from station.judging.files.planning import plan_of
from station.judging.files.shelf import ShelvedLimits, shelved
from station.judging.verdicts.judged import judged_recording
from station.judging.verdicts.verdict import Verdict
from station.records.recordings.recording_file import read_recording
from tests.cycle.line import LIMITS, run_unit, simulated_line
from tests.studies.noiseguard import SimulatedSweeps
from tests.studies.roomsounds import Place, hammer, with_noise, without_ambient

GOOD, RUBBING = "T2A00701", "T2A00702"
BANG = {"station_bang": 85.0}


def test_a_dropped_wrench_costs_a_repeat_and_not_the_unit(tmp_path: Path) -> None:
    with simulated_line(tmp_path, {GOOD: BANG}) as (cycle, log):
        report = run_unit(cycle, GOOD)
        assert [run.judgement.verdict for run in report.runs] == [Verdict.VOID, Verdict.PASS]
        first = log.runs_of(GOOD)[0]
        assert first.judgement.causes[0].reading == "room"
        assert "noise in the room" in first.judgement.causes[0].happened
        assert cycle.shift_so_far().passed == 1


def test_the_run_that_the_room_failed_is_judged_the_same_from_its_recording(tmp_path: Path) -> None:
    with simulated_line(tmp_path, {GOOD: BANG}) as (cycle, log):
        first = run_unit(cycle, GOOD).runs[0]
        assert first.recording is not None
        recording, _ = read_recording(log.path_of(first.recording))
    limits = shelved(LIMITS / "tarn2.toml").limits
    again = judged_recording(recording, plan_of(limits), limits)
    assert again.judgement.verdict is Verdict.VOID
    shift = first.readings.curves["room.rub"]
    np.testing.assert_array_equal(again.measured.readings.curves["room.rub"].values, shift.values)


def test_a_rub_is_not_excused_by_a_bang_and_its_likely_cause_is_named(tmp_path: Path) -> None:
    with simulated_line(tmp_path, {RUBBING: BANG | {"coil_rub": 70.0}}) as (cycle, _):
        report = run_unit(cycle, RUBBING)
    assert report.final.judgement.verdict is Verdict.FAIL
    (cause,) = [cause for cause in report.final.judgement.causes if cause.reading == "rub"]
    assert cause.happened.startswith("Rub or buzz")  # of unknown cause: the bang is in it
    chances = [
        number.value
        for name, number in report.final.readings.numbers.items()
        if name.startswith("rub_cause.")
    ]
    assert sum(chances) == pytest.approx(1.0)


def test_a_rub_alone_fails_at_once_for_a_coil_rub(tmp_path: Path) -> None:
    with simulated_line(tmp_path, {RUBBING: {"coil_rub": 70.0}}) as (cycle, _):
        report = run_unit(cycle, RUBBING)
    assert len(report.runs) == 1
    (cause,) = [cause for cause in report.final.judgement.causes if cause.reading == "rub"]
    assert "most likely coil rub" in cause.happened


def limits_with(noise: int) -> ShelvedLimits:
    taken = shelved(LIMITS / "tarn2.toml")
    repeats = taken.limits.repeats.model_copy(update={"noise": noise})
    return replace(taken, limits=taken.limits.model_copy(update={"repeats": repeats}))


def verdicts_without_ambient(
    order: Order, faults: dict[str, float], bangs: dict[int, float]
) -> list[Verdict]:
    """Return the verdicts of a scan; `bangs` say at what share of an attempt one comes."""
    sweeps = SimulatedSweeps(order, faults)
    rng = np.random.default_rng(3)
    earlier: list[Trial] = []

    def trial(number: int) -> Trial:
        recording = sweeps.recording(number)
        if number in bangs:
            where = Place(bangs[number], 85.0, 0.0, (0.0, 0.0))
            recording = with_noise(recording, hammer(rng), where, rng)
        earlier.append(judged(without_ambient(recording), order, earlier))
        return earlier[-1]

    tried = trials(order.shelved, trial, lambda _number, _reason: None)
    return [one.judgement.verdict for one in tried]


def test_without_an_ambient_microphone_a_second_sweep_tells() -> None:
    order = order_for(GOOD, limits_with(2))
    assert verdicts_without_ambient(order, {}, {1: 0.3}) == [Verdict.VOID, Verdict.PASS]


def test_without_an_ambient_microphone_noises_at_other_instants_end_void() -> None:
    order = order_for(GOOD, limits_with(1))
    found = verdicts_without_ambient(order, {}, {1: 0.25, 2: 0.4})
    assert found == [Verdict.VOID, Verdict.VOID]


def test_without_an_ambient_microphone_a_rub_fails_when_all_sweeps_agree() -> None:
    order = order_for(RUBBING, limits_with(2))
    found = verdicts_without_ambient(order, {"coil_rub": 70.0}, {2: 0.3})
    assert found == [Verdict.VOID, Verdict.VOID, Verdict.FAIL]


def test_without_an_ambient_microphone_a_wrong_response_is_confirmed_by_one_sweep() -> None:
    order = order_for("F6A00703", shelved(LIMITS / "fell60.toml"))
    found = verdicts_without_ambient(order, {"low_bias": 0.25}, {})
    assert found == [Verdict.VOID, Verdict.FAIL]


def test_without_an_ambient_microphone_what_no_noise_makes_fails_at_once() -> None:
    order = order_for(RUBBING, limits_with(2))
    assert verdicts_without_ambient(order, {"reversed_tweeter": 1.0}, {}) == [Verdict.FAIL]


def test_a_limit_file_that_allows_no_repeat_fails_at_once() -> None:
    order = order_for(RUBBING, limits_with(0))
    assert verdicts_without_ambient(order, {"coil_rub": 70.0}, {}) == [Verdict.FAIL]
