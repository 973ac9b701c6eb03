import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.signals.levelcurves import (
    in_band,
    mean_level_db,
    octave_weights,
    power_mean_db,
)
from station.errors import NoSignalError

FREQUENCY_HZ = np.geomspace(20.0, 20_480.0, 121)  # ten octaves, twelve points an octave


def test_mean_of_a_straight_line_over_octaves_stands_in_the_middle_of_the_band() -> None:
    # 3 dB an octave: the mean over 80 to 320 Hz is the level at 160 Hz, three octaves up: 9 dB
    level_db = 3.0 * np.log2(FREQUENCY_HZ / 20.0)
    assert float(mean_level_db(FREQUENCY_HZ, level_db, 80.0, 320.0)) == pytest.approx(9.0)


def test_a_finer_grid_in_one_place_has_no_more_say() -> None:
    # the straight line again, with the upper octave read on ten times as many points
    coarse = np.geomspace(100.0, 200.0, 13)[:-1]
    frequency_hz = np.concatenate([coarse, np.geomspace(200.0, 400.0, 121)])
    level_db = 3.0 * np.log2(frequency_hz / 200.0)
    assert float(mean_level_db(frequency_hz, level_db, 100.0, 400.0)) == pytest.approx(0.0)


def test_weights_of_a_single_point_are_one() -> None:
    assert octave_weights(np.array([100.0])).tolist() == [1.0]


def test_power_mean_of_two_levels_is_that_of_their_powers() -> None:
    # powers 1 and 0.1: mean 0.55, 10 lg 0.55 = -2.596 dB
    mean = power_mean_db(np.array([0.0, -10.0]), np.array([0.5, 0.5]))
    assert float(mean) == pytest.approx(-2.5964, abs=1e-4)


@settings(deadline=None, derandomize=True)
@given(st.lists(st.floats(-300.0, 300.0), min_size=1, max_size=20), st.floats(-1000.0, 1000.0))
def test_power_mean_moves_with_the_level(levels: list[float], gain_db: float) -> None:
    weights = np.full(len(levels), 1.0 / len(levels))
    level_db = np.array(levels)
    moved = float(power_mean_db(level_db + gain_db, weights))
    assert moved == pytest.approx(float(power_mean_db(level_db, weights)) + gain_db, abs=1e-6)
    assert min(levels) - 1e-9 <= moved - gain_db <= max(levels) + 1e-6


def test_a_nominal_frequency_means_the_exact_one_beside_it() -> None:
    # ISO 266 calls 79.43 Hz (10^1.9) 80 Hz and 1584.9 Hz (10^3.2) 1600 Hz
    exact_hz = 10.0 ** (np.arange(16, 36) / 10.0)
    inside_hz, _ = in_band(exact_hz, np.zeros(exact_hz.size), 80.0, 1600.0)
    assert inside_hz[0] == pytest.approx(79.43, abs=0.01)
    assert inside_hz[-1] == pytest.approx(1584.9, abs=0.1)


def test_a_gap_outside_the_band_does_no_harm() -> None:
    level_db = np.where(FREQUENCY_HZ < 50.0, np.nan, 1.0)
    assert float(mean_level_db(FREQUENCY_HZ, level_db, 100.0, 1000.0)) == pytest.approx(1.0)


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_a_gap_in_the_band_is_no_signal(value: float) -> None:
    level_db = np.zeros(FREQUENCY_HZ.size)
    level_db[40] = value
    with pytest.raises(NoSignalError):
        mean_level_db(FREQUENCY_HZ, level_db, 100.0, 1000.0)


def test_a_band_between_two_points_is_no_signal() -> None:
    with pytest.raises(NoSignalError):
        in_band(np.array([100.0, 200.0]), np.zeros(2), 130.0, 140.0)


@pytest.mark.parametrize(
    ("frequency_hz", "level_db", "band_hz"),
    [
        (np.array([100.0, 200.0]), np.zeros(3), (100.0, 200.0)),
        (np.array([200.0, 100.0]), np.zeros(2), (100.0, 200.0)),
        (np.array([0.0, 100.0]), np.zeros(2), (100.0, 200.0)),
        (np.array([100.0, 200.0]), np.zeros(2), (200.0, 100.0)),
        (np.array([100.0, 200.0]), np.zeros(2), (0.0, 100.0)),
    ],
)
def test_a_curve_or_band_that_cannot_be_is_refused(
    frequency_hz: np.ndarray, level_db: np.ndarray, band_hz: tuple[float, float]
) -> None:
    with pytest.raises(ValueError, match=r"need|rise"):
        in_band(frequency_hz, level_db, *band_hz)


def test_weights_need_rising_frequencies() -> None:
    with pytest.raises(ValueError, match="rising"):
        octave_weights(np.array([200.0, 100.0]))
    with pytest.raises(ValueError, match="rising"):
        octave_weights(np.array([]))


def test_weights_of_another_length_are_refused() -> None:
    with pytest.raises(ValueError, match="need"):
        power_mean_db(np.zeros(3), np.ones(2))
