import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.acoustic.directivity import (
    PolarResponse,
    front_to_back,
    listening_window_db,
    null_depth_db,
    off_axis_difference_db,
)
from station.errors import NoSignalError

FREQUENCY_HZ = np.geomspace(100.0, 10_000.0, 81)
ANGLES_DEG = np.array([-60.0, -30.0, -15.0, -10.0, 0.0, 10.0, 15.0, 30.0, 60.0])
SOUND_SPEED_M_PER_S = 343.0


def dipole() -> PolarResponse:
    """Far field proportional to the cosine of the angle (Kinsler et al., 4th ed., ch. 7)."""
    share_db = 20.0 * np.log10(np.cos(np.radians(ANGLES_DEG)))
    return PolarResponse(
        FREQUENCY_HZ, ANGLES_DEG, 85.0 + share_db[:, np.newaxis] + np.zeros(FREQUENCY_HZ.size)
    )


def piston(width_m: float, frequency_hz: np.ndarray, angle_deg: np.ndarray) -> PolarResponse:
    """Rectangular piston of this width: sin(x)/x with x = pi w sin(angle)/wavelength.

    Kinsler et al., 4th ed., ch. 7, and Beranek, Acoustics, 1954, ch. 4 (line and rectangle).
    """
    wavelength_m = SOUND_SPEED_M_PER_S / frequency_hz
    x = np.pi * width_m * np.sin(np.radians(angle_deg))[:, np.newaxis] / wavelength_m
    safe = np.where(x == 0.0, 1.0, x)
    return PolarResponse(
        frequency_hz,
        angle_deg,
        80.0 + 20.0 * np.log10(np.abs(np.where(x == 0.0, 1.0, np.sin(safe) / safe))),
    )


def test_window_of_a_dipole_is_the_mean_of_squared_cosines() -> None:
    # cos^2 15 deg = (2 + sqrt 3)/4; mean over 0 and +-15 deg: (1 + (2 + sqrt 3)/2)/3 = 0.955342
    window_db = listening_window_db(dipole(), (0.0, -15.0, 15.0))
    assert window_db - 85.0 == pytest.approx(10.0 * math.log10(0.9553418), abs=1e-6)


def test_window_of_equal_responses_is_that_response() -> None:
    curve_db = np.sin(FREQUENCY_HZ)
    polar = PolarResponse(FREQUENCY_HZ, np.array([-10.0, 0.0, 10.0]), np.tile(curve_db, (3, 1)))
    assert listening_window_db(polar, (-10.0, 0.0, 10.0)) == pytest.approx(curve_db)


def test_dipole_falls_with_the_cosine() -> None:
    # cos 60 deg = 1/2: -6.0206 dB; cos 30 deg = sqrt(3)/2: -1.2494 dB
    difference_db = off_axis_difference_db(dipole())
    assert difference_db[0] == pytest.approx(-6.0206, abs=1e-4)
    assert difference_db[7] == pytest.approx(-1.2494, abs=1e-4)
    assert difference_db[4].tolist() == [0.0] * FREQUENCY_HZ.size


def test_piston_beams_as_its_width_makes_it() -> None:
    # half a wavelength across the projected width: x = pi/2, 20 lg(2/pi) = -3.9224 dB;
    # a quarter: x = pi/4, 20 lg(sin(pi/4)/(pi/4)) = 20 lg 0.900316 = -0.9121 dB
    half_hz = SOUND_SPEED_M_PER_S / (2.0 * 0.3 * math.sin(math.radians(15.0)))
    polar = piston(0.3, np.array([half_hz / 2.0, half_hz]), ANGLES_DEG)
    assert off_axis_difference_db(polar)[6] == pytest.approx([-0.9121, -3.9224], abs=1e-4)


def test_piston_has_its_first_null_where_the_width_spans_a_wavelength() -> None:
    # sin(angle) = wavelength/width: first zero of sin(x)/x; 1e-6 beside it instead of -inf
    null_hz = SOUND_SPEED_M_PER_S / (0.4 * 0.5)
    polar = piston(0.4, np.array([null_hz * 0.5, null_hz * (1.0 + 1e-6)]), np.array([0.0, 30.0]))
    assert off_axis_difference_db(polar)[1, 1] < -110.0


def test_null_of_a_dipole_is_as_deep_as_its_cosine() -> None:
    assert null_depth_db(dipole(), 60.0, 200.0, 2000.0) == pytest.approx(-6.0206, abs=1e-4)


def test_null_depth_is_a_mean_of_powers_over_octaves() -> None:
    # half of the band's octaves at -20 dB, half silent but for -100 dB: power 0.005, -23.01 dB
    frequency_hz = np.geomspace(100.0, 400.0, 201)
    null_db = np.where(frequency_hz < 200.0, -20.0, -100.0)
    null_db[100] = 10.0 * math.log10(0.005)  # the trapezoid's own share of the step
    polar = PolarResponse(frequency_hz, np.array([0.0, 90.0]), np.stack([np.zeros(201), null_db]))
    assert null_depth_db(polar, 90.0, 100.0, 400.0) == pytest.approx(-23.0103, abs=1e-3)


@settings(deadline=None, derandomize=True)
@given(
    st.lists(st.floats(-40.0, 40.0), min_size=9, max_size=9),
    st.floats(-60.0, 60.0),
)
def test_a_gain_moves_the_window_and_no_difference(levels: list[float], gain_db: float) -> None:
    level_db = np.array(levels)[:, np.newaxis] + np.sin(FREQUENCY_HZ)
    one = PolarResponse(FREQUENCY_HZ, ANGLES_DEG, level_db)
    louder = PolarResponse(FREQUENCY_HZ, ANGLES_DEG, level_db + gain_db)
    angles_deg = (0.0, 10.0, -10.0)
    assert listening_window_db(louder, angles_deg) == pytest.approx(
        listening_window_db(one, angles_deg) + gain_db, abs=1e-9
    )
    assert off_axis_difference_db(louder) == pytest.approx(off_axis_difference_db(one), abs=1e-9)
    assert null_depth_db(louder, 60.0, 200.0, 2000.0) == pytest.approx(
        null_depth_db(one, 60.0, 200.0, 2000.0), abs=1e-9
    )


@settings(deadline=None, derandomize=True)
@given(st.permutations([0.0, -10.0, 10.0, 15.0]))
def test_the_order_of_angles_does_not_matter(angles_deg: list[float]) -> None:
    assert listening_window_db(dipole(), angles_deg) == pytest.approx(
        listening_window_db(dipole(), [0.0, -10.0, 10.0, 15.0]), abs=1e-12
    )


def test_a_gap_stays_a_gap_in_the_window_and_is_no_signal_in_a_null() -> None:
    level_db = np.full((9, FREQUENCY_HZ.size), 80.0)
    level_db[2, 40] = np.nan
    polar = PolarResponse(FREQUENCY_HZ, ANGLES_DEG, level_db)
    assert np.isnan(listening_window_db(polar, (0.0, -15.0))).sum() == 1
    with pytest.raises(NoSignalError):
        null_depth_db(polar, -15.0, 200.0, 2000.0)


@pytest.mark.parametrize("angles_deg", [(), (0.0, 0.0), (0.0, 20.0)])
def test_angles_that_were_not_measured_are_refused(angles_deg: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match=r"angles|measured"):
        listening_window_db(dipole(), angles_deg)


@pytest.mark.parametrize(
    ("angle_deg", "shape"),
    [([10.0, 20.0], (2, 81)), ([0.0, 0.0], (2, 81)), ([0.0, 10.0], (3, 81)), ([0.0], (1, 80))],
)
def test_a_polar_response_without_axis_or_shape_is_refused(
    angle_deg: list[float], shape: tuple[int, int]
) -> None:
    with pytest.raises(ValueError, match=r"need shape|angles must rise"):
        PolarResponse(FREQUENCY_HZ, np.array(angle_deg), np.zeros(shape))


def test_a_polar_response_cannot_be_written() -> None:
    with pytest.raises(ValueError, match="read-only"):
        dipole().level_db[0, 0] = 0.0


def panel(frequency_hz: np.ndarray) -> np.ndarray:
    """A response that is neither flat nor without phase: a resonance at 700 Hz, Q 1.5."""
    s = 1j * frequency_hz / 700.0
    return 2.0 * s / (s**2 + s / 1.5 + 1.0)


@pytest.mark.parametrize("delay_s", [-0.4e-3, 0.0, 0.123e-3, 0.45e-3])
@pytest.mark.parametrize("sign", [-1.0, 1.0])
def test_back_of_a_dipole_is_reversed_whatever_the_delay(delay_s: float, sign: float) -> None:
    front = panel(FREQUENCY_HZ)
    back = sign * 0.6 * front * np.exp(-2j * np.pi * FREQUENCY_HZ * delay_s)
    found = front_to_back(FREQUENCY_HZ, front, back, (300.0, 3000.0), 0.5e-3)
    # equal but for sign, gain and delay: the correlation is the sign (Cauchy-Schwarz)
    assert found.correlation_ratio == pytest.approx(sign, abs=1e-3)
    assert found.delay_s == pytest.approx(delay_s, abs=1e-6)
    assert found.opposite_ratio < 0.9


def test_an_octave_is_enough_for_the_sign() -> None:
    front = panel(FREQUENCY_HZ)
    back = -front * np.exp(-2j * np.pi * FREQUENCY_HZ * 0.2e-3)
    found = front_to_back(FREQUENCY_HZ, front, back, (500.0, 1000.0), 0.5e-3)
    assert found.correlation_ratio == pytest.approx(-1.0, abs=1e-3)


def test_a_single_tone_cannot_tell_the_sign() -> None:
    # half a period turns the sign of a tone: both correlations are 1 in magnitude
    frequency_hz = np.array([1000.0])
    found = front_to_back(
        frequency_hz, np.array([1.0 + 0j]), np.array([-1.0 + 0j]), (1000.0, 1000.0), 0.6e-3
    )
    assert abs(found.correlation_ratio) == pytest.approx(1.0, abs=1e-6)
    assert found.opposite_ratio == pytest.approx(1.0, abs=0.01)


def test_no_delay_allowed_compares_as_they_are() -> None:
    front = panel(FREQUENCY_HZ)
    found = front_to_back(FREQUENCY_HZ, front, -front, (300.0, 3000.0), 0.0)
    assert (found.correlation_ratio, found.delay_s) == (pytest.approx(-1.0), 0.0)
    assert found.opposite_ratio == 0.0


def test_unrelated_sides_correlate_little() -> None:
    rng = np.random.default_rng(4)
    frequency_hz = np.geomspace(300.0, 3000.0, 2000)
    front, back = rng.normal(size=(2, 2000)) + 1j * rng.normal(size=(2, 2000))
    found = front_to_back(frequency_hz, front, back, (300.0, 3000.0), 0.5e-3)
    # the largest of some tens of values of standard deviation 1/sqrt(2 * 2000) = 0.016
    assert abs(found.correlation_ratio) < 0.08


@settings(deadline=None, derandomize=True)
@given(st.floats(1e-6, 1e6), st.floats(1e-6, 1e6))
def test_loudness_of_either_side_does_not_matter(front_gain: float, back_gain: float) -> None:
    front, back = panel(FREQUENCY_HZ), -panel(FREQUENCY_HZ * 1.1)
    one = front_to_back(FREQUENCY_HZ, front, back, (300.0, 3000.0), 0.3e-3)
    other = front_to_back(
        FREQUENCY_HZ, front * front_gain, back * back_gain, (300.0, 3000.0), 0.3e-3
    )
    assert other.correlation_ratio == pytest.approx(one.correlation_ratio, rel=1e-9)


def test_a_silent_side_is_no_signal() -> None:
    front = panel(FREQUENCY_HZ)
    with pytest.raises(NoSignalError, match="One side"):
        front_to_back(FREQUENCY_HZ, front, np.zeros_like(front), (300.0, 3000.0), 0.5e-3)


def test_a_gap_in_a_side_is_no_signal() -> None:
    front = panel(FREQUENCY_HZ)
    back = front.copy()
    back[40] = np.nan
    with pytest.raises(NoSignalError):
        front_to_back(FREQUENCY_HZ, front, back, (300.0, 3000.0), 0.5e-3)


def test_sides_of_different_lengths_or_a_negative_delay_are_refused() -> None:
    front = panel(FREQUENCY_HZ)
    with pytest.raises(ValueError, match="three shapes"):
        front_to_back(FREQUENCY_HZ, front, front[1:], (300.0, 3000.0), 0.5e-3)
    with pytest.raises(ValueError, match="three shapes"):
        front_to_back(FREQUENCY_HZ, front, front, (300.0, 3000.0), -1e-3)
