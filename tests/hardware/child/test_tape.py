"""The tape plays and records sample for sample, whatever blocks the device asks for."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.hardware.between.link import Samples
from station.hardware.child.tape import Tape

RUN_IN, RUN_OUT, FADE = 8, 4, 5


def tape_of(stimulus: Samples, *, output_column: int = 0, columns: tuple[int, ...] = (0,)) -> Tape:
    return Tape(
        stimulus,
        output_column=output_column,
        input_columns=columns,
        run_in_frames=RUN_IN,
        run_out_frames=RUN_OUT,
        fade_frames=FADE,
    )


def ramp(n: int) -> Samples:
    return np.arange(1, n + 1, dtype=np.float32) / np.float32(n + 1)


def block(frames: int, channels: int = 1, value: float = 0.0) -> Samples:
    return np.full((frames, channels), value, dtype=np.float32)


@settings(derandomize=True, deadline=None)
@given(st.lists(st.integers(1, 40), min_size=1, max_size=60), st.integers(1, 60))
def test_every_sample_goes_out_once_and_in_order(blocks: list[int], n: int) -> None:
    tape = tape_of(ramp(n))
    out = [block(frames, 1, np.nan) for frames in (*blocks, 200)]
    for played in out:
        tape.exchange(np.zeros_like(played), played)
    stream = np.concatenate(out)[:, 0]
    expected = np.zeros_like(stream)
    expected[RUN_IN : RUN_IN + n] = ramp(n)
    np.testing.assert_array_equal(stream, expected)
    assert tape.over.is_set()


@settings(derandomize=True, deadline=None)
@given(st.lists(st.integers(1, 40), min_size=1, max_size=60), st.integers(1, 60))
def test_what_comes_in_while_a_sample_goes_out_stands_at_its_place(
    blocks: list[int], n: int
) -> None:
    tape = tape_of(ramp(n), columns=(2, 0))
    frame = 0
    for frames in (*blocks, 200):
        count = np.arange(frame, frame + frames, dtype=np.float32)
        heard = np.stack([count, -count, count + 0.5], axis=1)
        tape.exchange(heard, block(frames))
        frame += frames
    expected = np.arange(RUN_IN, RUN_IN + n)
    np.testing.assert_array_equal(tape.recorded[:, 0], expected + 0.5)
    np.testing.assert_array_equal(tape.recorded[:, 1], expected)


def test_only_the_named_output_plays() -> None:
    tape = tape_of(ramp(10), output_column=2)
    played = block(40, 3, np.nan)
    tape.exchange(block(40), played)
    np.testing.assert_array_equal(played[:, :2], 0.0)
    np.testing.assert_array_equal(played[RUN_IN : RUN_IN + 10, 2], ramp(10))


def test_a_stop_fades_to_silence_within_the_fade_and_never_jumps() -> None:
    tape = tape_of(np.ones(100, dtype=np.float32))
    tape.exchange(block(20), block(20))
    tape.stop()
    played = block(20, 1, np.nan)
    tape.exchange(block(20), played)
    # A linear fade over five samples: 4/5, 3/5, 2/5, 1/5, 0.
    np.testing.assert_allclose(played[:FADE, 0], [0.8, 0.6, 0.4, 0.2, 0.0], atol=1e-7)
    np.testing.assert_array_equal(played[FADE:], 0.0)
    assert tape.over.is_set()
    assert tape.stopped


def test_a_stop_before_the_first_sample_plays_no_more_than_the_fade() -> None:
    tape = tape_of(np.ones(100, dtype=np.float32))
    tape.stop()
    played = block(60)
    tape.exchange(block(60), played)
    assert np.count_nonzero(played) < FADE
    assert tape.stopped


def test_a_stop_of_a_run_shorter_than_the_fade_ends_it() -> None:
    tape = tape_of(ramp(3))
    tape.stop()
    tape.exchange(block(60), block(60))
    assert tape.over.is_set()
    assert tape.stopped


def test_a_stop_after_the_end_changes_nothing() -> None:
    tape = tape_of(ramp(10))
    tape.exchange(block(60), block(60))
    tape.stop()
    tape.exchange(block(60), block(60))
    assert not tape.stopped


def test_what_the_driver_reports_while_the_stream_settles_is_not_kept() -> None:
    tape = tape_of(ramp(10))
    tape.exchange(block(RUN_IN), block(RUN_IN), ("input overflow",))
    tape.exchange(block(60), block(60))
    assert tape.flags == ()


def test_what_the_driver_reports_in_mid_run_and_just_after_is_kept_once() -> None:
    tape = tape_of(ramp(10))
    tape.exchange(block(RUN_IN), block(RUN_IN))
    tape.exchange(block(5), block(5), ("input overflow",))
    tape.exchange(block(5), block(5), ("input overflow",))
    tape.exchange(block(RUN_OUT), block(RUN_OUT), ("output underflow",))
    tape.exchange(block(5), block(5), ("output overflow",))
    assert tape.flags == ("input overflow", "output underflow")


def test_an_error_in_the_callback_is_kept_and_the_output_stays_silent() -> None:
    tape = tape_of(ramp(10), columns=(3,))
    played = block(60, 1, np.nan)
    tape.exchange(block(60, 2), played)
    assert isinstance(tape.error, IndexError)
    assert tape.over.is_set()
    np.testing.assert_array_equal(played, 0.0)


def test_samples_that_are_no_numbers_are_recorded_as_they_came() -> None:
    tape = tape_of(ramp(10))
    heard = block(60, 1, 0.25)
    heard[RUN_IN + 3] = np.nan
    tape.exchange(heard, block(60))
    assert np.flatnonzero(np.isnan(tape.recorded[:, 0])).tolist() == [3]
    assert tape.moved().peaks == (0.25,)


def test_peaks_are_those_since_they_were_last_asked_for() -> None:
    tape = tape_of(ramp(100), columns=(0, 1))
    tape.exchange(block(RUN_IN, 2, 1.0), block(RUN_IN))
    assert tape.moved().peaks == (0.0, 0.0)
    tape.exchange(block(10, 2, -0.5), block(10))
    assert tape.moved().peaks == (0.5, 0.5)
    tape.exchange(block(10, 2, 0.25), block(10))
    moved = tape.moved()
    assert moved.peaks == (0.25, 0.25)
    assert moved.recorded_frames == 20
    assert moved.passed_frames == RUN_IN + 20
    assert tape.moved().peaks == (0.25, 0.25)


def test_the_callers_stimulus_is_left_alone() -> None:
    stimulus = ramp(100)
    tape = tape_of(stimulus)
    tape.stop()
    tape.exchange(block(60), block(60))
    assert stimulus == pytest.approx(ramp(100))
