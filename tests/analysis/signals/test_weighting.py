import numpy as np
import pyfar
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.signals.weighting import (
    REFERENCE_HZ,
    level_db_spl,
    pole_frequencies,
    pole_power,
    pressure_of_level,
    weighting_db,
    weighting_power_ratio,
)
from station.errors import NoSignalError
from tests.analysis.weightingtable import A_DB, C_DB, EXACT_HZ

# The table is rounded to 0.1 dB.
ROUNDING_DB = 0.05


def test_a_weighting_is_that_of_the_standards_table() -> None:
    assert weighting_db(EXACT_HZ, "A") == pytest.approx(A_DB, abs=ROUNDING_DB)


def test_c_weighting_is_that_of_the_standards_table() -> None:
    assert weighting_db(EXACT_HZ, "C") == pytest.approx(C_DB, abs=ROUNDING_DB)


def test_z_weighting_is_flat() -> None:
    # IEC 61672-1:2013, table 3: 0.0 at all frequencies
    assert weighting_db(EXACT_HZ, "Z").tolist() == [0.0] * EXACT_HZ.size


def test_poles_stand_where_the_standard_rounds_them() -> None:
    # IEC 61672-1:2013, annex E: 20.60 Hz, 107.7 Hz, 737.9 Hz, 12194 Hz, as printed
    f1_hz, f2_hz, f3_hz, f4_hz = pole_frequencies()
    assert f1_hz == pytest.approx(20.60, abs=0.005)
    assert f2_hz == pytest.approx(107.7, abs=0.05)
    assert f3_hz == pytest.approx(737.9, abs=0.05)
    assert f4_hz == pytest.approx(12194.0, abs=0.5)


def test_what_brings_one_kilohertz_to_zero_is_that_of_the_standard() -> None:
    # IEC 61672-1:2013, annex E: A1000 = -2.000 dB, C1000 = -0.062 dB
    at_reference_hz = np.array([REFERENCE_HZ])
    a_db = 10.0 * np.log10(pole_power(at_reference_hz, "A"))
    c_db = 10.0 * np.log10(pole_power(at_reference_hz, "C"))
    assert a_db == pytest.approx(-2.000, abs=0.0005)
    assert c_db == pytest.approx(-0.062, abs=0.0005)


@pytest.mark.parametrize("weighting", ["A", "C"])
def test_weightings_agree_with_another_implementation(weighting: str) -> None:
    frequency_hz = np.geomspace(5.0, 40_000.0, 300)
    # pyfar rounds the normalisation to 0.001 dB, as the standard prints it
    expected = pyfar.constants.frequency_weighting_curve(weighting, frequency_hz)
    assert weighting_db(frequency_hz, weighting) == pytest.approx(expected, abs=0.002)


def test_c_weighting_halves_the_power_at_its_defining_frequencies() -> None:
    # IEC 61672-1:2013, annex E: -3 dB (half power) re 1 kHz at 10^1.5 Hz and 10^3.9 Hz
    at_corners = weighting_power_ratio(np.array([10.0**1.5, 10.0**3.9]), "C")
    assert at_corners == pytest.approx([0.5, 0.5], rel=1e-9)


def test_nothing_of_a_constant_pressure_is_heard() -> None:
    assert weighting_power_ratio(np.array([0.0]), "A").tolist() == [0.0]
    assert weighting_power_ratio(np.array([0.0]), "C").tolist() == [0.0]


def test_a_level_at_zero_hertz_is_refused() -> None:
    with pytest.raises(ValueError, match="above 0 Hz"):
        weighting_db(np.array([0.0, 10.0]), "A")


def test_negative_frequency_is_refused() -> None:
    with pytest.raises(ValueError, match="zero or above"):
        weighting_power_ratio(np.array([-1.0]), "A")


def test_unknown_weighting_is_refused() -> None:
    with pytest.raises(ValueError, match="A, C or Z"):
        weighting_power_ratio(np.array([100.0]), "B")  # type: ignore[arg-type]  # on purpose


def test_a_calibrators_ninety_four_decibels_are_one_pascal() -> None:
    # 20 µPa * 10^(94/20) = 1.00237 Pa, the well-known value of a sound calibrator
    assert float(pressure_of_level(np.asarray(94.0))) == pytest.approx(1.0024, abs=5e-5)
    assert float(level_db_spl(np.asarray(1.0))) == pytest.approx(93.9794, abs=5e-5)


def test_reference_pressure_is_zero_decibels() -> None:
    assert float(level_db_spl(np.asarray(20e-6))) == 0.0


@settings(deadline=None, derandomize=True)
@given(st.floats(-60.0, 200.0))
def test_level_and_pressure_undo_one_another(level: float) -> None:
    assert float(level_db_spl(pressure_of_level(np.asarray(level)))) == pytest.approx(
        level, abs=1e-9
    )


@pytest.mark.parametrize("pressure_pa", [0.0, -1.0, np.nan, np.inf])
def test_no_pressure_has_no_level(pressure_pa: float) -> None:
    with pytest.raises(NoSignalError):
        level_db_spl(np.array([1.0, pressure_pa]))


def test_level_that_is_not_finite_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        pressure_of_level(np.array([np.nan]))
