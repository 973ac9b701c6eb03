import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.acoustic.pairmatch import pair_match
from station.errors import NoSignalError

FREQUENCY_HZ = 1000.0 * 10.0 ** (0.3 * np.arange(-48, 49) / 12.0)  # twelfth octaves, base ten
LEFT_DB = 3.0 * np.sin(np.log(FREQUENCY_HZ)) - 0.5 * np.log2(FREQUENCY_HZ / 1000.0)

shapes = st.lists(
    st.floats(-30.0, 30.0), min_size=FREQUENCY_HZ.size, max_size=FREQUENCY_HZ.size
).map(np.array)


def test_a_louder_unit_differs_in_level_only() -> None:
    match = pair_match(FREQUENCY_HZ, LEFT_DB, LEFT_DB + 0.7, 100.0, 10_000.0)
    assert match.level_db == pytest.approx(0.7)
    assert match.shape_max_db == pytest.approx(0.0, abs=1e-12)
    assert match.shape_rms_db == pytest.approx(0.0, abs=1e-12)


def test_a_tilt_differs_in_shape_only() -> None:
    # 1 dB an octave about the band's middle: mean 0, largest 2 dB at the ends of four octaves;
    # root mean square of a straight line between -a and a is a/sqrt(3) (closed form)
    octave = np.linspace(-2.0, 2.0, 385)
    frequency_hz = 1000.0 * 2.0**octave
    match = pair_match(frequency_hz, np.zeros(385), octave, 250.0, 4000.0)
    assert match.level_db == pytest.approx(0.0, abs=1e-12)
    assert match.shape_max_db == pytest.approx(2.0)
    assert match.shape_rms_db == pytest.approx(2.0 / np.sqrt(3.0), rel=1e-4)
    assert match.worst_hz in (250.0, 4000.0)


def test_a_single_dip_is_found_at_its_frequency_and_sign() -> None:
    right_db = LEFT_DB.copy()
    right_db[60] -= 4.0
    match = pair_match(FREQUENCY_HZ, LEFT_DB, right_db, 100.0, 10_000.0)
    assert match.worst_hz == FREQUENCY_HZ[60]
    assert match.worst_db == pytest.approx(-4.0 - match.level_db)
    # one point of the band's 81 (two of them half) pulls the mean down by 4 dB / 80
    assert match.level_db == pytest.approx(-0.05, abs=1e-3)


def test_what_lies_outside_the_band_is_not_compared() -> None:
    right_db = np.where(FREQUENCY_HZ < 100.0, np.nan, LEFT_DB)
    match = pair_match(FREQUENCY_HZ, LEFT_DB, right_db, 200.0, 10_000.0)
    assert match.shape_max_db == 0.0


@settings(deadline=None, derandomize=True)
@given(shapes, shapes)
def test_the_order_of_a_pair_changes_signs_only(left_db: np.ndarray, right_db: np.ndarray) -> None:
    one = pair_match(FREQUENCY_HZ, left_db, right_db, 100.0, 10_000.0)
    other = pair_match(FREQUENCY_HZ, right_db, left_db, 100.0, 10_000.0)
    assert other.level_db == -one.level_db
    assert other.worst_db == -one.worst_db
    assert (other.shape_max_db, other.shape_rms_db, other.worst_hz) == (
        one.shape_max_db,
        one.shape_rms_db,
        one.worst_hz,
    )


@settings(deadline=None, derandomize=True)
@given(shapes, shapes, st.floats(-40.0, 40.0))
def test_a_gain_changes_the_level_only(
    left_db: np.ndarray, right_db: np.ndarray, gain_db: float
) -> None:
    one = pair_match(FREQUENCY_HZ, left_db, right_db, 100.0, 10_000.0)
    louder = pair_match(FREQUENCY_HZ, left_db, right_db + gain_db, 100.0, 10_000.0)
    assert louder.level_db == pytest.approx(one.level_db + gain_db, abs=1e-9)
    assert louder.shape_max_db == pytest.approx(one.shape_max_db, abs=1e-9)
    assert louder.shape_rms_db == pytest.approx(one.shape_rms_db, abs=1e-9)


def test_a_gap_in_either_curve_is_no_signal() -> None:
    gap_db = LEFT_DB.copy()
    gap_db[50] = np.nan
    for pair in ((LEFT_DB, gap_db), (gap_db, LEFT_DB)):
        with pytest.raises(NoSignalError):
            pair_match(FREQUENCY_HZ, *pair, 100.0, 10_000.0)


def test_curves_of_different_lengths_are_refused() -> None:
    with pytest.raises(ValueError, match="need two shapes"):
        pair_match(FREQUENCY_HZ, LEFT_DB, LEFT_DB[1:], 100.0, 10_000.0)
