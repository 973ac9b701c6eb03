import math
from collections.abc import Callable

import numpy as np
import pytest
import scipy.integrate
import scipy.optimize
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.acoustic.compression import band_compression
from station.errors import NoSignalError

FREQUENCY_HZ = np.geomspace(20.0, 200.0, 41)
BAND_HZ = [(40.0, 100.0)]
LIMIT_V = 10.0  # peak at which the hard limiter clips, and scale of the soft one


def describing_function(peak_v: float) -> float:
    """Gain of a hard limiter for a sine's fundamental: Gelb and Vander Velde, 1968, saturation.

    N = 2/pi (asin r + r sqrt(1 - r^2)), r = limit/peak.
    """
    r = min(LIMIT_V / peak_v, 1.0)
    return 2.0 / math.pi * (math.asin(r) + r * math.sqrt(1.0 - r * r))


def soft_describing_function(peak_v: float) -> float:
    """Gain of LIMIT_V tanh(x/LIMIT_V), from the definition (Gelb and Vander Velde, 1968, ch. 2)."""
    integral, _ = scipy.integrate.quad(
        lambda angle: LIMIT_V * math.tanh(peak_v * math.sin(angle) / LIMIT_V) * math.sin(angle),
        0.0,
        math.pi,
    )
    return 2.0 / math.pi * integral / peak_v


def fundamental_gain_db(drive_v: float, limiter: Callable[[np.ndarray], np.ndarray]) -> float:
    """Send a sampled sine through a limiter and read its fundamental from a Fourier transform."""
    angle = 2.0 * np.pi * np.arange(4096) / 4096
    peak_v = math.sqrt(2.0) * drive_v
    spectrum = np.fft.rfft(limiter(peak_v * np.sin(angle)))
    return 20.0 * math.log10(2.0 * abs(spectrum[1]) / 4096 / peak_v)


def hard(voltage_v: np.ndarray) -> np.ndarray:
    return np.clip(voltage_v, -LIMIT_V, LIMIT_V)


def soft(voltage_v: np.ndarray) -> np.ndarray:
    return LIMIT_V * np.tanh(voltage_v / LIMIT_V)


def responses_db(drive_v: np.ndarray, limiter: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
    """The same compression at all frequencies of a response that is not flat."""
    gains_db = np.array([fundamental_gain_db(float(drive), limiter) for drive in drive_v])
    return gains_db[:, np.newaxis] + 90.0 - 3.0 * np.log2(FREQUENCY_HZ / 50.0)


def test_hard_limiter_compresses_as_its_describing_function() -> None:
    drive_v = 2.0 * 10.0 ** (np.arange(0, 31) / 20.0)  # 2 V to 63 V in steps of 1 dB
    (found,) = band_compression(
        FREQUENCY_HZ, drive_v, responses_db(drive_v, hard), BAND_HZ, reached_db=1.0
    )
    expected = [
        -20.0 * math.log10(describing_function(math.sqrt(2.0) * drive)) for drive in drive_v
    ]
    assert found.compression_db == pytest.approx(expected, abs=2e-3)  # 4096 samples a period
    exact_peak_v = scipy.optimize.brentq(
        lambda peak_v: describing_function(peak_v) - 10.0 ** (-1.0 / 20.0), LIMIT_V, 3.0 * LIMIT_V
    )
    # a cubic between steps of 1 dB: within 0.004 dB, 0.05 %, of the drive
    assert found.onset_v == pytest.approx(exact_peak_v / math.sqrt(2.0), rel=5e-4)


@pytest.mark.parametrize(("step_db", "error_db"), [(2, 0.1), (3, 0.25), (6, 1.0)])
def test_coarser_drives_find_the_onset_as_well_as_stated(step_db: int, error_db: float) -> None:
    exact_v = scipy.optimize.brentq(
        lambda peak_v: describing_function(peak_v) - 10.0 ** (-1.0 / 20.0), LIMIT_V, 30.0
    ) / math.sqrt(2.0)
    for shift_db in np.linspace(0.0, step_db, 7):
        drive_v = 0.5 * 10.0 ** ((np.arange(0, 43, step_db) + shift_db) / 20.0)
        (found,) = band_compression(
            FREQUENCY_HZ, drive_v, responses_db(drive_v, hard), BAND_HZ, reached_db=1.0
        )
        assert found.onset_v is not None
        assert abs(20.0 * math.log10(found.onset_v / exact_v)) < error_db


def test_soft_limiter_compresses_as_its_describing_function() -> None:
    drive_v = 0.5 * 10.0 ** (np.arange(0, 41) / 20.0)
    (found,) = band_compression(
        FREQUENCY_HZ, drive_v, responses_db(drive_v, soft), BAND_HZ, reached_db=1.0
    )
    gains = np.array([soft_describing_function(math.sqrt(2.0) * drive) for drive in drive_v])
    assert found.compression_db == pytest.approx(20.0 * np.log10(gains[0] / gains), abs=1e-6)
    # relative to the lowest drive, which is itself compressed a little
    exact_peak_v = scipy.optimize.brentq(
        lambda peak_v: soft_describing_function(peak_v) - gains[0] * 10.0 ** (-1.0 / 20.0),
        0.1 * LIMIT_V,
        3.0 * LIMIT_V,
    )
    assert found.onset_v == pytest.approx(exact_peak_v / math.sqrt(2.0), rel=5e-4)


def test_soft_limiter_compresses_little_by_a_quarter_of_the_square() -> None:
    # tanh x = x - x^3/3: gain 1 - x^2/4 for small peaks x; 20 lg gives 2.171 x^2 dB
    drive_v = np.array([0.01, 1.0 / math.sqrt(2.0)])  # x = 0.1 at the second
    (found,) = band_compression(FREQUENCY_HZ, drive_v, responses_db(drive_v, soft), BAND_HZ, 1.0)
    assert found.compression_db[1] == pytest.approx(0.02171, rel=0.01)


def test_far_above_its_limit_a_limiter_is_a_relay() -> None:
    # relay: N = 4 D/(pi A), Gelb and Vander Velde, 1968
    drive_v = np.array([1.0, 1000.0])
    (found,) = band_compression(FREQUENCY_HZ, drive_v, responses_db(drive_v, hard), BAND_HZ, 1.0)
    relay_db = 20.0 * math.log10(4.0 * LIMIT_V / (math.pi * math.sqrt(2.0) * 1000.0))
    assert found.compression_db[1] == pytest.approx(-relay_db, abs=0.01)


def test_a_linear_unit_never_reaches_the_onset() -> None:
    drive_v = np.array([1.0, 2.0, 4.0])
    (found,) = band_compression(FREQUENCY_HZ, drive_v, np.full((3, 41), 88.0), BAND_HZ, 1.0)
    assert found.onset_v is None
    assert found.compression_db.tolist() == [0.0, 0.0, 0.0]


def test_onset_on_a_measured_drive_is_that_drive() -> None:
    drive_v = np.array([1.0, 2.0, 4.0])
    response_db = np.array([[90.0], [89.0], [85.0]]) + np.zeros(41)
    (found,) = band_compression(FREQUENCY_HZ, drive_v, response_db, BAND_HZ, 1.0)
    assert found.onset_v == pytest.approx(2.0)


def test_onset_lies_halfway_over_the_logarithm_of_the_drive() -> None:
    # 0 dB at 1 V and 2 dB at 4 V: 1 dB at their geometric mean
    response_db = np.array([[90.0], [88.0]]) + np.zeros(41)
    (found,) = band_compression(FREQUENCY_HZ, np.array([1.0, 4.0]), response_db, BAND_HZ, 1.0)
    assert found.onset_v == pytest.approx(2.0)


def test_every_band_has_its_own_onset() -> None:
    drive_v = np.array([1.0, 2.0, 4.0])
    response_db = np.full((3, 41), 90.0)
    response_db[2, FREQUENCY_HZ < 40.0] -= 6.0
    low, high = band_compression(
        FREQUENCY_HZ, drive_v, response_db, [(20.0, 35.0), (60.0, 200.0)], 1.0
    )
    assert low.onset_v is not None
    assert 2.0 < low.onset_v < 4.0
    assert high.onset_v is None


@settings(deadline=None, derandomize=True)
@given(st.floats(-60.0, 60.0), st.floats(0.1, 10.0))
def test_neither_sensitivity_nor_unit_of_drive_changes_compression(
    gain_db: float, ratio: float
) -> None:
    drive_v = np.array([1.0, 3.0, 9.0])
    response_db = np.array([[90.0], [89.5], [86.0]]) + np.sin(FREQUENCY_HZ)
    (one,) = band_compression(FREQUENCY_HZ, drive_v, response_db, BAND_HZ, 1.0)
    (other,) = band_compression(FREQUENCY_HZ, drive_v * ratio, response_db + gain_db, BAND_HZ, 1.0)
    assert other.compression_db == pytest.approx(one.compression_db, abs=1e-9)
    assert one.onset_v is not None
    assert other.onset_v == pytest.approx(one.onset_v * ratio, rel=1e-9)


def test_a_gap_in_the_band_is_no_signal() -> None:
    response_db = np.full((2, 41), 90.0)
    response_db[1, 20] = np.nan
    with pytest.raises(NoSignalError):
        band_compression(FREQUENCY_HZ, np.array([1.0, 2.0]), response_db, BAND_HZ, 1.0)


@pytest.mark.parametrize(
    ("drive_v", "reached_db"),
    [
        (np.array([1.0]), 1.0),
        (np.array([2.0, 1.0]), 1.0),
        (np.array([0.0, 1.0]), 1.0),
        (np.array([1.0, np.inf]), 1.0),
        (np.array([1.0, 2.0]), 0.0),
        (np.array([1.0, 2.0]), np.nan),
    ],
)
def test_drives_that_do_not_rise_or_an_onset_of_nothing_are_refused(
    drive_v: np.ndarray, reached_db: float
) -> None:
    response_db = np.full((drive_v.size, 41), 90.0)
    with pytest.raises(ValueError, match=r"need|rise|positive"):
        band_compression(FREQUENCY_HZ, drive_v, response_db, BAND_HZ, reached_db)
