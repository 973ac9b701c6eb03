import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.acoustic.mainshum import mains_hum

RATE_HZ = 48_000.0
P0_PA = 20e-6
LEVELS_DB_SPL = np.array([40.0, 46.0, 30.0, 35.0, 25.0])


def hum_pa(mains_hz: float, length_s: float, rate_hz: float = RATE_HZ) -> np.ndarray:
    """Harmonics 1 to 5 at LEVELS_DB_SPL with arbitrary phases."""
    time_s = np.arange(round(length_s * rate_hz)) / rate_hz
    peaks_pa = np.sqrt(2.0) * P0_PA * 10.0 ** (LEVELS_DB_SPL / 20.0)
    return np.sum(
        [
            peak * np.cos(2.0 * np.pi * n * mains_hz * time_s + 1.7 * n)
            for n, peak in enumerate(peaks_pa, start=1)
        ],
        axis=0,
    )


@pytest.mark.parametrize("length_s", [0.25, 0.5, 1.0, 5.0])
@pytest.mark.parametrize("mains_hz", [49.5, 50.0, 50.31, 59.6, 60.0, 60.5])
def test_levels_of_known_lines_are_read(length_s: float, mains_hz: float) -> None:
    nominal_hz = 50.0 if mains_hz < 55.0 else 60.0
    hum = mains_hum(hum_pa(mains_hz, length_s), RATE_HZ, nominal_hz, 5)
    # The fundamental is found to 1/16 of a bin of the fifth line. A line 20 dB louder next to one
    # leaks through a Hann window (side lobes -31 dB, falling by 18 dB an octave): 0.25 s keeps
    # 50 Hz 12.5 bins apart, below -70 dB.
    assert hum.mains_hz == pytest.approx(mains_hz, abs=0.05 / length_s)
    assert hum.level_db_spl == pytest.approx(LEVELS_DB_SPL, abs=0.03)
    assert hum.frequency_hz == pytest.approx(np.arange(1, 6) * mains_hz, abs=0.25 / length_s)


def test_total_is_the_sum_of_powers() -> None:
    # 10 lg(10^4 + 10^4.6 + 10^3 + 10^3.5 + 10^2.5) = 47.33 dB
    hum = mains_hum(hum_pa(50.0, 1.0), RATE_HZ, 50.0, 5)
    assert hum.total_db_spl == pytest.approx(47.33, abs=0.03)


@pytest.mark.parametrize("length_s", [0.25, 1.0, 5.0])
def test_floor_is_that_of_white_noise_in_the_stated_bandwidth(length_s: float) -> None:
    # White noise of variance s^2 has the density 2 s^2/rate; a Hann window's noise bandwidth is
    # 1.5 bins (Harris, Proc. IEEE 66(1), 1978, table I). The median over the space between two
    # lines holds 50 T independent values: averaged over 10 lines it scatters by about
    # 4.34 dB * 1.44 / sqrt(10 * 50 T / 1.5), 0.7 dB for the shortest.
    noise_pa = np.random.default_rng(11).normal(0.0, 1e-3, round(length_s * RATE_HZ))
    hum = mains_hum(noise_pa, RATE_HZ, 50.0, 10)
    expected = 10.0 * np.log10(1e-6 * 2.0 / RATE_HZ * 1.5 / length_s / P0_PA**2)
    assert float(np.mean(hum.floor_db_spl)) == pytest.approx(expected, abs=0.75)
    assert hum.resolution_hz == pytest.approx(1.5 / length_s)


def test_lines_in_noise_scatter_as_noise_in_their_bandwidth_makes_them() -> None:
    # A line with the signal-to-noise ratio q in its bandwidth scatters by 8.69 dB / sqrt(2 q)
    # (closed form, q >> 1). Here the floor of 1 s is 26.0 dB below the weakest line: 0.31 dB.
    floor_db_spl = LEVELS_DB_SPL.min() - 26.0
    sigma_pa = P0_PA * np.sqrt(10.0 ** (floor_db_spl / 10.0) * RATE_HZ / 2.0 / 1.5)
    weakest = int(np.argmin(LEVELS_DB_SPL))
    clean_pa = hum_pa(50.0, 1.0)
    errors_db = [
        mains_hum(
            clean_pa + np.random.default_rng(seed).normal(0.0, sigma_pa, clean_pa.size),
            RATE_HZ,
            50.0,
            5,
        ).level_db_spl[weakest]
        - LEVELS_DB_SPL[weakest]
        for seed in range(100)
    ]
    # 100 draws know their spread to 7 %
    assert float(np.std(errors_db)) == pytest.approx(0.31, rel=0.25)
    assert float(np.mean(errors_db)) == pytest.approx(0.0, abs=0.1)


def test_the_wrong_mains_frequency_stands_out_less() -> None:
    rng = np.random.default_rng(3)
    for length_s in (0.25, 1.0):
        recording_pa = hum_pa(50.1, length_s)
        recording_pa = recording_pa + rng.normal(0.0, 1e-4, recording_pa.size)
        right = mains_hum(recording_pa, RATE_HZ, 50.0, 6)
        wrong = mains_hum(recording_pa, RATE_HZ, 60.0, 6)
        assert right.prominence_db > wrong.prominence_db + 6.0


def test_prominence_of_noise_stays_low() -> None:
    # the largest of many means of ten exponential values of mean 1: below 4, 6 dB
    for seed in range(20):
        noise_pa = np.random.default_rng(seed).normal(0.0, 1e-3, 24_000)
        assert mains_hum(noise_pa, RATE_HZ, 50.0, 10).prominence_db < 6.0


@settings(max_examples=20, deadline=None, derandomize=True)
@given(st.floats(49.5, 50.5), st.floats(0.25, 1.5))
def test_any_mains_frequency_within_the_tolerance_is_read(mains_hz: float, length_s: float) -> None:
    hum = mains_hum(hum_pa(mains_hz, length_s, 8000.0), 8000.0, 50.0, 5)
    assert hum.level_db_spl == pytest.approx(LEVELS_DB_SPL, abs=0.05)


def test_lines_above_half_the_sampling_rate_are_refused() -> None:
    with pytest.raises(ValueError, match="multiples"):
        mains_hum(np.random.default_rng(0).normal(size=1000), 1000.0, 50.0, 10)


def test_no_line_at_all_is_refused() -> None:
    with pytest.raises(ValueError, match="multiples"):
        mains_hum(np.random.default_rng(0).normal(size=24_000), RATE_HZ, 50.0, 0)
