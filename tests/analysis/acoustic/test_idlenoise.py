import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.acoustic.idlenoise import equivalent_level_db_spl, idle_noise
from station.analysis.signals.weighting import Weighting
from station.errors import NoSignalError
from tests.analysis.weightingtable import A_DB, EXACT_HZ

RATE_HZ = 48_000.0
P0_PA = 20e-6


def tone_pa(frequency_hz: float, level_db_spl: float, length_s: float, phase: float) -> np.ndarray:
    """A sine: RMS pressure P0_PA at 0 dB."""
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    peak_pa = np.sqrt(2.0) * P0_PA * 10.0 ** (level_db_spl / 20.0)
    return peak_pa * np.sin(2.0 * np.pi * frequency_hz * time_s + phase)


@pytest.mark.parametrize("length_s", [0.25, 0.7, 1.0, 2.4, 5.0])
@pytest.mark.parametrize("weighting", ["A", "C", "Z"])
def test_a_calibrators_tone_reads_its_level_in_every_weighting(
    length_s: float, weighting: Weighting
) -> None:
    # IEC 61672-1, table 3: 0 dB at 1 kHz in every weighting; 0.01 dB: weighting over bins of 4 Hz
    recording_pa = tone_pa(1000.0, 94.0, length_s, 0.3)
    level = equivalent_level_db_spl(recording_pa, RATE_HZ, weighting)
    assert level == pytest.approx(94.0, abs=0.01)


def test_a_tone_at_every_third_octave_is_weighted_as_the_table_says() -> None:
    # IEC 61672-1, table 3, rounded to 0.1 dB; 20 Hz upwards, where 1 Hz bins are narrow enough
    for frequency_hz, weight_db in zip(EXACT_HZ[3:], A_DB[3:], strict=True):
        level = equivalent_level_db_spl(tone_pa(frequency_hz, 80.0, 1.5, 0.7), RATE_HZ, "A")
        assert level - 80.0 == pytest.approx(weight_db, abs=0.1)


def test_tones_together_add_their_weighted_powers() -> None:
    # table 3 again: 10 lg of the sum of powers; the sum hides each entry's rounding
    frequencies_hz, weights_db = EXACT_HZ[5:42:4], A_DB[5:42:4]
    recording_pa = np.sum(
        [tone_pa(f, 60.0, 2.0, float(k)) for k, f in enumerate(frequencies_hz)], axis=0
    )
    expected = 60.0 + 10.0 * np.log10(np.sum(10.0 ** (weights_db / 10.0)))
    level = equivalent_level_db_spl(recording_pa, RATE_HZ, "A")
    assert level == pytest.approx(expected, abs=0.03)


def test_hum_does_not_leak_to_where_it_would_be_heard() -> None:
    # 50.119 Hz is 30.2 dB down (table 3). Over 0.25 s, 12.53 periods: without a window the level
    # would depend on the phase by more than 1 dB. The bins of 4 Hz add 0.06 dB.
    for phase in np.linspace(0.0, np.pi, 7):
        recording_pa = tone_pa(50.119, 80.0, 0.25, phase)
        assert equivalent_level_db_spl(recording_pa, RATE_HZ, "A") == pytest.approx(49.8, abs=0.11)


def test_white_noise_reads_its_variance_unweighted() -> None:
    # the level of noise of variance s^2 is 10 lg(s^2/p0^2); of 240 000 samples it scatters by
    # 4.34 dB * sqrt(2/240 000) = 0.013 dB, the segments' window included by 0.014 dB
    noise_pa = np.random.default_rng(5).normal(0.0, 1e-3, 240_000)
    level = equivalent_level_db_spl(noise_pa, RATE_HZ, "Z")
    assert level == pytest.approx(20.0 * np.log10(1e-3 / P0_PA), abs=0.045)


def test_every_part_of_a_long_recording_counts() -> None:
    # a burst of a tenth of a second anywhere but at the ends: energy 1/24 of 2.4 s, -13.80 dB
    tone = tone_pa(1000.0, 94.0, 2.4, 0.0)
    for start_s in (0.5, 1.1, 1.8):
        inside = np.zeros(tone.size)
        inside[round(start_s * RATE_HZ) : round((start_s + 0.1) * RATE_HZ)] = 1.0
        level = equivalent_level_db_spl(inside * tone, RATE_HZ, "A")
        # segments overlap unevenly and the ends weigh less: up to 1.5 dB more for the middle
        assert -14.8 < level - 94.0 < -11.8


@pytest.mark.parametrize("weighting", ["A", "Z"])
def test_an_offset_of_the_input_is_not_noise(weighting: Weighting) -> None:
    recording_pa = tone_pa(1000.0, 40.0, 1.0, 0.0) + 0.5
    level = equivalent_level_db_spl(recording_pa, RATE_HZ, weighting)
    assert level == pytest.approx(40.0, abs=0.01)


def test_idle_noise_names_the_mains_it_hears() -> None:
    noise_pa = np.random.default_rng(1).normal(0.0, 2e-5, round(RATE_HZ))
    for nominal_hz, true_hz in ((50.0, 49.93), (60.0, 60.04)):
        hum_pa = tone_pa(true_hz, 40.0, 1.0, 0.2) + tone_pa(2.0 * true_hz, 35.0, 1.0, 1.0)
        found = idle_noise(noise_pa + hum_pa, RATE_HZ, 10, 6.0)
        assert found.mains_fits
        assert found.hum.nominal_hz == nominal_hz
        assert found.hum.mains_hz == pytest.approx(true_hz, abs=0.02)


def test_noise_without_hum_fits_no_mains_but_has_levels() -> None:
    for seed in range(10):
        noise_pa = np.random.default_rng(seed).normal(0.0, 1e-4, round(RATE_HZ))
        found = idle_noise(noise_pa, RATE_HZ, 10, 6.0)
        assert not found.mains_fits
        assert np.isfinite(found.hum.level_db_spl).all()


@settings(max_examples=15, deadline=None, derandomize=True)
@given(st.floats(-40.0, 60.0))
def test_a_gain_shifts_every_level(gain_db: float) -> None:
    noise_pa = np.random.default_rng(2).normal(0.0, 1e-4, 20_000)
    quiet = idle_noise(noise_pa, RATE_HZ, 5, 6.0)
    loud = idle_noise(noise_pa * 10.0 ** (gain_db / 20.0), RATE_HZ, 5, 6.0)
    assert loud.a_weighted_db_spl - quiet.a_weighted_db_spl == pytest.approx(gain_db, abs=1e-6)
    assert loud.hum.level_db_spl - quiet.hum.level_db_spl == pytest.approx(gain_db, abs=1e-6)
    assert loud.hum.floor_db_spl - quiet.hum.floor_db_spl == pytest.approx(gain_db, abs=1e-6)
    assert loud.hum.prominence_db == pytest.approx(quiet.hum.prominence_db, abs=1e-6)


@pytest.mark.parametrize(
    "recording_pa",
    [
        np.zeros(24_000),
        np.full(24_000, 0.1),
        np.ones(11_999),
        np.zeros(0),
        np.r_[np.nan, np.ones(24_000)],
        np.r_[np.inf, np.ones(24_000)],
    ],
)
def test_a_dead_short_or_broken_recording_is_no_signal(recording_pa: np.ndarray) -> None:
    with pytest.raises(NoSignalError):
        equivalent_level_db_spl(recording_pa, RATE_HZ, "A")
    with pytest.raises(NoSignalError):
        idle_noise(recording_pa, RATE_HZ, 5, 6.0)


def test_a_recording_of_two_channels_is_refused() -> None:
    with pytest.raises(ValueError, match="shape"):
        equivalent_level_db_spl(np.ones((2, 24_000)), RATE_HZ, "A")
