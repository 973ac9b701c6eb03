import math

import numpy as np
import pytest
import scipy.signal
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.acoustic.filtersetting import filter_setting, slope_of
from station.analysis.plan import FilterKind, FilterPlan
from station.errors import NoSignalError

# twelfth and forty-eighth octaves, base ten, 10 Hz to 10 kHz
TWELFTHS_HZ = 1000.0 * 10.0 ** (0.3 * np.arange(-80, 41) / 12.0)
FORTY_EIGHTHS_HZ = 1000.0 * 10.0 ** (0.3 * np.arange(-320, 161) / 48.0)
LOW_PASS = FilterPlan("low-pass", 10.0, 14.0, 400.0, 1600.0)
HIGH_PASS = FilterPlan("high-pass", 2000.0, 4000.0, 10.0, 30.0)


def butterworth_db(
    frequency_hz: np.ndarray, order: int, corner_hz: float, kind: FilterKind
) -> np.ndarray:
    """The analogue prototype as scipy designs it."""
    b, a = scipy.signal.butter(
        order, 2.0 * math.pi * corner_hz, kind.replace("-", ""), analog=True, output="ba"
    )
    _, response = scipy.signal.freqs(b, a, 2.0 * math.pi * frequency_hz)
    return 20.0 * np.log10(np.abs(response))


@pytest.mark.parametrize("order", [2, 4])
@pytest.mark.parametrize("corner_hz", [80.0, 101.0, 123.0])
def test_low_pass_has_the_corner_and_slope_it_was_designed_with(
    order: int, corner_hz: float
) -> None:
    level_db = -7.0 + butterworth_db(TWELFTHS_HZ, order, corner_hz, "low-pass")
    found = filter_setting(TWELFTHS_HZ, level_db, LOW_PASS)
    assert found.passband_db == pytest.approx(-7.0, abs=0.01)
    # the parabola's own error: up to 0.12 % for the fourth order
    assert found.corner_hz == pytest.approx(corner_hz, rel=0.0015)
    # Butterworth: 1 + r^2n = 4, so r = 3^(1/2n)
    assert found.half_amplitude_hz == pytest.approx(corner_hz * 3.0 ** (0.5 / order), rel=0.0015)
    # 20 lg 2 = 6.0206 dB an octave and order, two octaves or more above the corner
    assert found.slope_db_per_octave == pytest.approx(6.0206 * order, rel=0.003)


@pytest.mark.parametrize("order", [2, 4])
def test_high_pass_is_read_like_a_low_pass(order: int) -> None:
    level_db = 3.0 + butterworth_db(TWELFTHS_HZ, order, 120.0, "high-pass")
    found = filter_setting(TWELFTHS_HZ, level_db, HIGH_PASS)
    assert found.passband_db == pytest.approx(3.0, abs=0.01)
    assert found.corner_hz == pytest.approx(120.0, rel=0.0015)
    assert found.half_amplitude_hz == pytest.approx(120.0 / 3.0 ** (0.5 / order), rel=0.0015)
    assert found.slope_db_per_octave == pytest.approx(6.0206 * order, rel=0.003)


def test_linkwitz_riley_filter_is_six_decibels_down_at_its_corner() -> None:
    # two second-order Butterworth filters in series: 20 lg(1/(1 + r^4)), -6.02 dB at r = 1
    level_db = 2.0 * butterworth_db(TWELFTHS_HZ, 2, 100.0, "low-pass")
    found = filter_setting(TWELFTHS_HZ, level_db, LOW_PASS)
    assert found.half_amplitude_hz == pytest.approx(100.0, rel=0.001)
    # half power where 1 + r^4 = sqrt(2)
    assert found.corner_hz == pytest.approx(100.0 * (math.sqrt(2.0) - 1.0) ** 0.25, rel=0.0015)
    assert found.slope_db_per_octave == pytest.approx(24.08, abs=0.05)


def test_a_band_pass_is_read_on_either_side() -> None:
    level_db = butterworth_db(TWELFTHS_HZ, 4, 25.0, "high-pass")
    level_db += butterworth_db(TWELFTHS_HZ, 4, 400.0, "low-pass")
    low = filter_setting(TWELFTHS_HZ, level_db, FilterPlan("high-pass", 80, 125, 10.0, 12.5))
    high = filter_setting(TWELFTHS_HZ, level_db, FilterPlan("low-pass", 80, 125, 1600.0, 6400.0))
    assert low.corner_hz == pytest.approx(25.0, rel=0.0015)
    assert high.corner_hz == pytest.approx(400.0, rel=0.0015)


@pytest.mark.parametrize(
    ("order", "kind", "noise_db"),
    [(2, "low-pass", 0.1), (2, "high-pass", 0.1), (4, "low-pass", 0.3), (4, "high-pass", 0.3)],
)
def test_uncertainties_are_as_large_as_the_errors(
    order: int, kind: FilterKind, noise_db: float
) -> None:
    # Error over stated standard uncertainty: its root mean square is 1 for honest uncertainties.
    # 200 draws know it to 5 %; 29 degrees of freedom at the corner raise it to 1.04 (Student).
    plan = LOW_PASS if kind == "low-pass" else HIGH_PASS
    clean_db = butterworth_db(FORTY_EIGHTHS_HZ, order, 100.0, kind)
    clean = filter_setting(FORTY_EIGHTHS_HZ, clean_db, plan)
    rng = np.random.default_rng(20)
    z = []
    for _ in range(200):
        noisy_db = clean_db + rng.normal(0.0, noise_db, clean_db.size)
        found = filter_setting(FORTY_EIGHTHS_HZ, noisy_db, plan)
        z.append(
            [
                (found.corner_hz - 100.0) / found.corner_u_hz,
                (found.half_amplitude_hz - clean.half_amplitude_hz) / found.half_amplitude_u_hz,
                (found.slope_db_per_octave - clean.slope_db_per_octave)
                / found.slope_u_db_per_octave,
            ]
        )
    rms = np.sqrt(np.mean(np.square(z), axis=0))
    assert np.all((rms > 0.85) & (rms < 1.15)), rms


def test_uncertainty_from_few_points_is_right_on_average() -> None:
    # eight or nine points, five or six degrees of freedom: the mean square of the stated
    # uncertainty is that of the error; 400 draws know their ratio to 10 %, its root to 5 %
    clean_db = butterworth_db(TWELFTHS_HZ, 2, 100.0, "low-pass")
    rng = np.random.default_rng(21)
    found = [
        filter_setting(TWELFTHS_HZ, clean_db + rng.normal(0.0, 0.1, clean_db.size), LOW_PASS)
        for _ in range(400)
    ]
    errors_hz = [each.corner_hz - 100.0 for each in found]
    stated_hz = [each.corner_u_hz for each in found]
    ratio = np.sqrt(np.mean(np.square(errors_hz)) / np.mean(np.square(stated_hz)))
    assert ratio == pytest.approx(1.0, abs=0.12)


def test_slope_of_a_straight_line_is_exact() -> None:
    level_db = 5.0 - 12.0 * np.log2(TWELFTHS_HZ / 100.0)
    slope, uncertainty = slope_of(TWELFTHS_HZ, level_db, 200.0, 800.0)
    assert slope == pytest.approx(-12.0, abs=1e-9)
    assert uncertainty == pytest.approx(0.0, abs=1e-9)


def test_slope_and_its_uncertainty_are_those_of_a_textbook_regression() -> None:
    # least squares by hand on x = 0..4, y = 0, 1, 1, 3, 3: slope 0.8, residual squares 0.8,
    # variance 0.8/3, over the squares of x about its mean, 10: u = 0.1633
    frequency_hz = 100.0 * 2.0 ** np.arange(5.0)
    slope, uncertainty = slope_of(frequency_hz, np.array([0.0, 1.0, 1.0, 3.0, 3.0]), 100.0, 1600.0)
    assert slope == pytest.approx(0.8)
    assert uncertainty == pytest.approx(math.sqrt(0.8 / 3.0 / 10.0))


@settings(deadline=None, derandomize=True)
@given(st.floats(-80.0, 120.0))
def test_a_gain_moves_no_corner(gain_db: float) -> None:
    level_db = butterworth_db(TWELFTHS_HZ, 4, 90.0, "low-pass")
    one = filter_setting(TWELFTHS_HZ, level_db, LOW_PASS)
    louder = filter_setting(TWELFTHS_HZ, level_db + gain_db, LOW_PASS)
    assert louder.corner_hz == pytest.approx(one.corner_hz, rel=1e-9)
    assert louder.slope_db_per_octave == pytest.approx(one.slope_db_per_octave, rel=1e-9)
    assert louder.passband_db == pytest.approx(one.passband_db + gain_db, abs=1e-9)


@settings(deadline=None, derandomize=True)
@given(st.floats(0.25, 4.0))
def test_everything_moves_with_the_frequency_axis(ratio: float) -> None:
    level_db = butterworth_db(TWELFTHS_HZ, 2, 90.0, "low-pass")
    one = filter_setting(TWELFTHS_HZ, level_db, LOW_PASS)
    moved_plan = FilterPlan("low-pass", 10 * ratio, 14 * ratio, 400 * ratio, 1600 * ratio)
    moved = filter_setting(TWELFTHS_HZ * ratio, level_db, moved_plan)
    assert moved.corner_hz == pytest.approx(one.corner_hz * ratio, rel=1e-6)


def test_a_unit_whose_filter_does_not_fall_is_no_signal() -> None:
    with pytest.raises(NoSignalError, match="does not fall by 3 dB"):
        filter_setting(TWELFTHS_HZ, np.zeros(TWELFTHS_HZ.size), LOW_PASS)


def test_a_fall_of_three_but_not_six_decibels_is_no_signal() -> None:
    shelf_db = np.where(TWELFTHS_HZ > 100.0, -4.0, 0.0) + np.linspace(0, -0.1, TWELFTHS_HZ.size)
    with pytest.raises(NoSignalError):
        filter_setting(TWELFTHS_HZ, shelf_db, LOW_PASS)


def test_a_coarse_curve_is_no_signal() -> None:
    third_octaves_hz = TWELFTHS_HZ[::4]
    with pytest.raises(NoSignalError, match="too few points"):
        filter_setting(
            third_octaves_hz, butterworth_db(third_octaves_hz, 4, 100.0, "low-pass"), LOW_PASS
        )


@pytest.mark.parametrize("at_hz", [12.0, 100.0, 800.0])
def test_a_gap_where_the_filter_is_read_is_no_signal(at_hz: float) -> None:
    level_db = butterworth_db(TWELFTHS_HZ, 4, 100.0, "low-pass")
    level_db[int(np.argmin(np.abs(TWELFTHS_HZ - at_hz)))] = np.nan
    with pytest.raises(NoSignalError):
        filter_setting(TWELFTHS_HZ, level_db, LOW_PASS)


@settings(deadline=None, derandomize=True)
@given(
    st.lists(st.floats(-200.0, 200.0), min_size=TWELFTHS_HZ.size, max_size=TWELFTHS_HZ.size),
    st.sampled_from([LOW_PASS, HIGH_PASS]),
)
def test_any_curve_gives_numbers_or_no_signal(levels: list[float], plan: FilterPlan) -> None:
    try:
        found = filter_setting(TWELFTHS_HZ, np.array(levels), plan)
    except NoSignalError:
        return
    assert np.isfinite([found.corner_hz, found.corner_u_hz, found.half_amplitude_hz]).all()


def test_several_curves_at_once_are_refused() -> None:
    with pytest.raises(ValueError, match="one curve"):
        filter_setting(TWELFTHS_HZ, np.zeros((2, TWELFTHS_HZ.size)), LOW_PASS)
