from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.analysis.signals.microphoneresponse import (
    MicrophoneResponse,
    corrected,
    microphone_gain,
)

RESPONSE = MicrophoneResponse(
    frequency_hz=np.array([20.0, 1000.0, 4000.0, 20e3]),
    level_db=np.array([-1.0, 0.0, 0.5, -3.0]),
    phase_deg=np.array([10.0, 0.0, -20.0, -150.0]),
)


def test_a_microphone_that_reads_3_db_low_is_raised_by_3_db() -> None:
    ideal = corrected(np.array([20e3]), np.array([1.0 + 0j]), RESPONSE)
    # 10^(3/20) = 1.41254; a lag of 150 degrees is undone.
    assert abs(ideal[0]) == pytest.approx(1.41254, rel=1e-5)
    assert math.degrees(np.angle(ideal[0])) == pytest.approx(150.0)


def test_between_two_points_the_octave_decides() -> None:
    # 2 kHz is half of the way from 1 to 4 kHz over log frequency: 0.25 dB, -10 degrees.
    gain = microphone_gain(RESPONSE, np.array([2000.0]))[0]
    assert 20.0 * math.log10(abs(gain)) == pytest.approx(0.25)
    assert math.degrees(np.angle(gain)) == pytest.approx(-10.0)


def test_beyond_its_ends_the_response_stays() -> None:
    gain = microphone_gain(RESPONSE, np.array([0.0, 5.0, 48e3]))
    # 10^(-1/20) = 0.891251 and 10^(-3/20) = 0.707946
    assert np.abs(gain) == pytest.approx([0.891251, 0.891251, 0.707946], rel=1e-5)


def test_a_phase_that_wraps_is_followed_through() -> None:
    wrapping = MicrophoneResponse(
        np.array([1000.0, 4000.0]), np.zeros(2), np.array([-170.0, 170.0])
    )
    # From -170 to -190 degrees, not back through zero: at 2 kHz half of the way, -180.
    gain = microphone_gain(wrapping, np.array([2000.0]))[0]
    assert gain == pytest.approx(-1.0)


@given(st.lists(st.floats(0.0, 1e5), min_size=1, max_size=8))
def test_correcting_the_microphone_s_own_response_leaves_one(frequencies: list[float]) -> None:
    frequency_hz = np.array(frequencies)
    ideal = corrected(frequency_hz, microphone_gain(RESPONSE, frequency_hz), RESPONSE)
    np.testing.assert_allclose(ideal, 1.0, rtol=1e-12)


def test_what_is_no_response_is_refused() -> None:
    with pytest.raises(ValueError, match="three shapes"):
        MicrophoneResponse(np.array([1.0, 2.0]), np.zeros(2), np.zeros(3))
    with pytest.raises(ValueError, match="rising"):
        MicrophoneResponse(np.array([2.0, 1.0]), np.zeros(2), np.zeros(2))
    with pytest.raises(ValueError, match="level_db"):
        MicrophoneResponse(np.array([1.0, 2.0]), np.array([0.0, math.nan]), np.zeros(2))
    with pytest.raises(ValueError, match="zero or above"):
        microphone_gain(RESPONSE, np.array([-1.0]))
    with pytest.raises(ValueError, match="equal shapes"):
        corrected(np.array([1.0, 2.0]), np.ones(3, dtype=complex), RESPONSE)
