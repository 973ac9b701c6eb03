"""The room is told from the unit point by point, on a good unit made from closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.analysis.arrays import FloatArray
from station.analysis.measure import measure
from station.analysis.readings import Curve
from station.analysis.recording import Recording
from station.analysis.trust.roomshift import RoomShift, events, held, room_shift
from station.analysis.trust.sweepagreement import shift_between_sweeps
from tests.analysis.goodunit import (
    FLIGHT_SAMPLES,
    LATENCY_SAMPLES,
    PLAN,
    good_recording,
    good_signals,
)

ALL_DB = 99.0
CLICK_PA = 20e-6 * 10.0 ** (85.0 / 20.0)


def clicks(*excited_hz: float, peak_pa: float = CLICK_PA) -> FloatArray:
    """Return clicks of a millisecond, each when the microphone hears this excitation."""
    recording = good_recording()
    sweep = recording.sweep
    heard = np.zeros(recording.n_samples)
    time_s = np.arange(96) / sweep.rate_hz
    for frequency_hz in excited_hz:
        arrives_s = (LATENCY_SAMPLES + FLIGHT_SAMPLES) / sweep.rate_hz + sweep.time_of(frequency_hz)
        first = sweep.lead_in_samples + round(arrives_s * sweep.rate_hz)
        heard[first : first + 96] = peak_pa * np.sin(2.0 * np.pi * 9000.0 * time_s)
    return heard


def heard_with(here_pa: FloatArray, there_pa: FloatArray) -> Recording:
    signals = good_signals()
    return good_recording(
        microphone=signals["microphone"] + here_pa, ambient=signals["ambient"] + there_pa
    )


def shift_of(recording: Recording) -> RoomShift:
    shift = room_shift(recording, PLAN)
    assert shift is not None
    return shift


def at(curve: Curve, frequency_hz: float) -> float:
    return float(curve.values[np.argmin(np.abs(np.log(curve.frequency_hz / frequency_hz)))])


def test_without_an_ambient_microphone_nothing_is_told() -> None:
    recording = good_recording()
    kept = [row for row, role in enumerate(recording.roles) if role != "ambient"]
    channels = tuple(recording.channels[row] for row in kept)
    deaf = replace(recording, samples=recording.samples[kept], channels=channels)
    assert room_shift(deaf, PLAN) is None


def test_a_dead_ambient_microphone_tells_nothing() -> None:
    silence = np.zeros(good_recording().n_samples)
    assert room_shift(good_recording(ambient=silence), PLAN) is None


def test_an_ambient_microphone_that_hears_the_unit_as_loudly_tells_nothing() -> None:
    assert room_shift(good_recording(ambient=good_signals()["microphone"]), PLAN) is None


def test_a_click_that_both_hear_may_be_all_of_the_rub() -> None:
    shift = shift_of(heard_with(clicks(100.0), clicks(100.0)))
    assert at(shift.curves["rub"], 100.0) == pytest.approx(ALL_DB, abs=1e-3)


def test_a_click_that_only_the_main_microphone_hears_is_the_units() -> None:
    shift = shift_of(heard_with(clicks(100.0), clicks()))
    assert at(shift.curves["rub"], 100.0) == 0.0


def test_a_noise_excuses_no_click_at_another_instant() -> None:
    shift = shift_of(heard_with(clicks(63.0, 200.0), clicks(63.0)))
    assert at(shift.curves["rub"], 63.0) > 40.0
    assert at(shift.curves["rub"], 200.0) == 0.0


def test_a_noise_excuses_no_much_louder_click_at_the_same_instant() -> None:
    weak = clicks(100.0, peak_pa=0.1 * CLICK_PA)  # 20 dB less, beyond the 12 dB of nearness
    assert at(shift_of(heard_with(clicks(100.0), weak)).curves["rub"], 100.0) == 0.0


def test_a_noise_nearer_to_the_main_microphone_is_still_the_rooms() -> None:
    weaker = clicks(100.0, peak_pa=0.4 * CLICK_PA)  # 8 dB less
    assert at(shift_of(heard_with(clicks(100.0), weaker)).curves["rub"], 100.0) > 40.0


def test_a_click_of_the_room_arrives_up_to_ten_milliseconds_apart() -> None:
    later = np.roll(clicks(100.0), 700)  # 7.3 ms
    assert at(shift_of(heard_with(clicks(100.0), later)).curves["rub"], 100.0) > 40.0
    for samples in (4800, -9600):  # 50 ms later, or 100 ms earlier: another event
        far = np.roll(clicks(100.0), samples)
        assert at(shift_of(heard_with(clicks(100.0), far)).curves["rub"], 100.0) == 0.0


def test_a_calm_room_moves_no_response_and_no_level() -> None:
    shift = shift_of(good_recording())
    np.testing.assert_array_equal(shift.curves["response"].values, 0.0)
    assert set(shift.numbers) == {"sensitivity", "level.woofer", "level.tweeter"}
    assert max(shift.numbers.values()) == 0.0


def test_a_loud_noise_of_the_room_may_move_distortion_and_response() -> None:
    recording = good_recording()
    burst = np.zeros(recording.n_samples)
    first = recording.sweep.lead_in_samples + round(0.5 * recording.rate_hz)
    rng = np.random.default_rng(4)
    burst[first : first + 9600] = 10.0 * CLICK_PA * rng.standard_normal(9600)
    shift = shift_of(heard_with(burst, burst))
    assert shift.curves["thd"].values.max() == pytest.approx(ALL_DB, abs=1e-3)
    assert shift.curves["response"].values.max() > 3.0
    units = heard_with(burst, np.zeros_like(burst))
    assert shift_of(units).curves["response"].values.max() == 0.0
    loudest = int(np.argmax(measure(units, PLAN).readings.curves["thd"].values))
    assert shift_of(units).curves["thd"].values[loudest] == 0.0


def test_an_event_reaches_from_where_it_rises_to_where_it_dies() -> None:
    level = np.array([1.0, 3.0, 9.0, 3.0, 3.0, 1.0, 3.0, 1.0])
    lower, upper = np.full(8, 2.0), np.full(8, 8.0)
    expected = [False, True, True, True, True, False, False, False]
    np.testing.assert_array_equal(events(level, lower, upper), expected)
    assert not events(np.zeros(8), lower, upper).any()


def test_an_event_is_held_for_a_while_and_not_before() -> None:
    happens = np.array([False, False, True, False, False, False, False, True])
    expected = [False, False, True, True, True, False, False, True]
    np.testing.assert_array_equal(held(happens, 2), expected)
    assert not held(np.zeros(4, dtype=bool), 2).any()


def agreement(*recordings: Recording) -> RoomShift:
    readings = [measure(recording, PLAN).readings for recording in recordings]
    return shift_between_sweeps(recordings, readings, PLAN)


def test_a_click_in_both_sweeps_is_the_units() -> None:
    one = heard_with(clicks(100.0), clicks())
    assert at(agreement(one, one).curves["rub"], 100.0) == pytest.approx(0.0, abs=0.01)


def test_clicks_at_different_instants_are_the_rooms() -> None:
    before, now = heard_with(clicks(63.0), clicks()), heard_with(clicks(100.0), clicks())
    shift = agreement(before, now)
    assert at(shift.curves["rub"], 100.0) > 20.0


def test_what_two_noises_hide_is_told_by_a_third_sweep() -> None:
    noisy, calm = heard_with(clicks(100.0), clicks()), good_recording()
    assert at(agreement(noisy, calm, noisy).curves["rub"], 100.0) > 20.0


def test_one_sweep_agrees_with_nothing() -> None:
    with pytest.raises(ValueError, match="two sweeps"):
        shift_between_sweeps([good_recording()], [], PLAN)
