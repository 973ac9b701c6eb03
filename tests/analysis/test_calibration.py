"""Tones and resistors of known size, built in the test; z-scores over seeded draws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.arrays import FloatArray
from station.analysis.calibration import (
    Calibrator,
    current_full_scale_a,
    drift_db,
    microphone_calibration,
)
from station.analysis.signals.sweep import Sweep, sweep_voltage
from station.analysis.signals.tone import tone_near
from station.analysis.statistics.uncertainty import Estimate
from station.errors import NoSignalError

RATE_HZ = 96e3
SECONDS = 2.0
TIME_S = np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ
FULL_SCALE_PA = 40.0
# 94 dB re 20 µPa: 20e-6 * 10^4.7 = 1.0024 Pa (IEC 60942, from memory: 94 dB is about 1 Pa).
PRESSURE_94_DB_PA = 1.00237
PEAK = PRESSURE_94_DB_PA * math.sqrt(2.0) / FULL_SCALE_PA
# Class 1 of IEC 60942:2003, from memory: frequency 1 %, distortion 3 %, fluctuation 0.1 dB.
CALIBRATOR = Calibrator(Estimate(94.0, 0.1), 1000.0, 0.01, 0.03, 0.1)


def tone(frequency_hz: float = 1000.0, peak: float = PEAK, phase_rad: float = 0.3) -> FloatArray:
    return peak * np.sin(2.0 * np.pi * frequency_hz * TIME_S + phase_rad)


def test_full_scale_of_a_94_db_tone_is_what_the_tone_was_made_with() -> None:
    found = microphone_calibration(tone(), RATE_HZ, CALIBRATOR)
    assert found.full_scale_pa.value == pytest.approx(FULL_SCALE_PA, rel=1e-5)
    assert found.tone.frequency_hz == pytest.approx(1000.0, abs=1e-4)
    # 0.1 dB of the calibrator is 1.15 % (0.1 / 8.686), and a pure tone adds nothing.
    assert found.full_scale_pa.standard_uncertainty == pytest.approx(0.0115 * 40.0, rel=0.01)


def test_114_db_means_ten_times_the_pressure() -> None:
    loud = Calibrator(Estimate(114.0, 0.1), 1000.0, 0.01, 0.03, 0.1)
    found = microphone_calibration(tone(), RATE_HZ, loud)
    assert found.full_scale_pa.value == pytest.approx(10.0 * FULL_SCALE_PA, rel=1e-5)


@given(
    frequency_hz=st.floats(992.0, 1008.0),
    phase_rad=st.floats(0.0, 6.28),
    peak=st.floats(0.001, 0.9),
)
@settings(max_examples=25, deadline=None)
def test_neither_phase_nor_an_odd_frequency_changes_the_amplitude(
    frequency_hz: float, phase_rad: float, peak: float
) -> None:
    found = tone_near(tone(frequency_hz, peak, phase_rad), RATE_HZ, 1000.0)
    # The RMS of a sine is its peak over sqrt(2).
    assert found.rms.value == pytest.approx(peak / math.sqrt(2.0), rel=1e-6)
    assert found.frequency_hz == pytest.approx(frequency_hz, abs=1e-4)
    assert found.fluctuation_db < 1e-4


def test_the_recording_s_uncertainty_is_as_large_as_its_error() -> None:
    rng = np.random.default_rng(94)
    truth = PEAK / math.sqrt(2.0)
    rate_hz = RATE_HZ / 8.0
    every = tone()[::8]
    found = [
        tone_near(every + 1e-3 * rng.standard_normal(every.size), rate_hz, 1000.0).rms
        for _ in range(200)
    ]
    scores = [(rms.value - truth) / rms.standard_uncertainty for rms in found]
    # Student's t with 15 degrees of freedom has a spread of sqrt(15 / 13) = 1.07.
    assert 0.9 < math.sqrt(np.mean(np.square(scores))) < 1.24


def test_noise_beside_the_tone_is_not_in_its_amplitude() -> None:
    hum = 0.3 * PEAK * np.sin(2.0 * np.pi * 50.0 * TIME_S)
    found = tone_near(tone() + hum, RATE_HZ, 1000.0)
    # A Hann window of 0.125 s keeps nothing 950 Hz away: 1 / (119 bins)^3 of 0.3.
    assert found.rms.value == pytest.approx(PEAK / math.sqrt(2.0), rel=1e-6)


@pytest.mark.parametrize("share", [0.01, 0.03, 0.1])
def test_distortion_is_the_share_of_its_harmonics(share: float) -> None:
    second = share * PEAK * np.sin(2.0 * np.pi * 2000.0 * TIME_S)
    found = tone_near(tone() + second, RATE_HZ, 1000.0)
    # IEC 60942: RMS of the rest over the RMS of the whole, r / sqrt(1 + r^2).
    assert found.distortion_ratio == pytest.approx(share / math.sqrt(1.0 + share**2), rel=1e-3)


def test_fluctuation_is_half_of_the_way_from_lowest_to_highest() -> None:
    level_db = np.where(TIME_S < 1.0, -0.2, 0.2)
    found = tone_near(tone() * 10.0 ** (level_db / 20.0), RATE_HZ, 1000.0)
    assert found.fluctuation_db == pytest.approx(0.2, abs=1e-3)


@pytest.mark.parametrize(
    ("samples", "happened"),
    [
        (np.zeros(TIME_S.size), "No steady tone"),
        (1e-3 * np.random.default_rng(1).standard_normal(TIME_S.size), "No steady tone"),
        (tone(250.0), "No steady tone"),
        (tone(1015.0), "1015.0 Hz, not 1000 Hz"),
        (tone(985.0), "985.0 Hz, not 1000 Hz"),
        (tone() + 0.05 * tone(2000.0), "26 dB below"),
        (tone() * (1.0 + 0.03 * np.sin(2.0 * np.pi * 0.5 * TIME_S)), "moves by 0.2"),
        (np.clip(tone(peak=1.3), -1.0, 1.0), "clips"),
    ],
)
def test_what_is_no_calibrator_is_refused_with_a_remedy(samples: FloatArray, happened: str) -> None:
    with pytest.raises(NoSignalError, match=happened) as refused:
        microphone_calibration(samples, RATE_HZ, CALIBRATOR)
    assert refused.value.remedy


def test_recordings_too_short_or_too_slow_are_refused() -> None:
    with pytest.raises(ValueError, match="n >="):
        tone_near(tone()[:40_000], RATE_HZ, 1000.0)
    with pytest.raises(ValueError, match="higher rate"):
        tone_near(tone(), 2500.0, 1000.0)


FULL_SCALE_A = 5.0
RESISTOR_OHM = Estimate(8.2, 0.0082)
SWEEP = Sweep(15.0, 19.0, 44e3, 1.0, 2.83, 0.1, 0.2, RATE_HZ)
VOLTAGE_V = sweep_voltage(SWEEP)


def test_current_through_a_known_resistor_gives_the_full_scale() -> None:
    samples = VOLTAGE_V / 8.2 / FULL_SCALE_A
    found = current_full_scale_a(VOLTAGE_V, samples, RESISTOR_OHM, 0.002)
    assert found.value == pytest.approx(FULL_SCALE_A, rel=1e-9)
    # 0.1 % of the resistor and 0.2 % of the voltage add in squares to 0.2236 %.
    assert found.standard_uncertainty == pytest.approx(0.002236 * 5.0, rel=1e-3)


def test_the_current_s_uncertainty_is_as_large_as_its_error() -> None:
    rng = np.random.default_rng(5)
    hum = np.sin(2.0 * np.pi * 50.0 * np.arange(VOLTAGE_V.size) / RATE_HZ)
    scores = []
    for _ in range(60):
        noisy = VOLTAGE_V / 8.2 / FULL_SCALE_A + 2e-3 * rng.standard_normal(VOLTAGE_V.size)
        certain = Estimate(8.2, 0.0)
        found = current_full_scale_a(VOLTAGE_V, noisy + 1e-4 * hum, certain, 0.0)
        scores.append((found.value - FULL_SCALE_A) / found.standard_uncertainty)
    # Student's t with 15 degrees of freedom has a spread of 1.07, as above.
    assert 0.75 < math.sqrt(np.mean(np.square(scores))) < 1.35


@pytest.mark.parametrize(
    ("samples", "happened"),
    [
        (-VOLTAGE_V / 41.0, "reversed"),
        (np.zeros(VOLTAGE_V.size), "silent"),
        (np.roll(VOLTAGE_V, 2000) / 41.0, "not that of a resistor"),
    ],
)
def test_what_is_no_resistor_is_refused(samples: FloatArray, happened: str) -> None:
    with pytest.raises(NoSignalError, match=happened):
        current_full_scale_a(VOLTAGE_V, samples, RESISTOR_OHM, 0.002)


def test_a_single_click_calibrates_nothing() -> None:
    click_v = np.zeros(4096)
    click_v[100] = 1.0
    with pytest.raises(NoSignalError, match="for a moment"):
        current_full_scale_a(click_v, click_v / 41.0, RESISTOR_OHM, 0.002)


def test_voltage_and_current_must_belong_together() -> None:
    with pytest.raises(ValueError, match="two shapes"):
        current_full_scale_a(VOLTAGE_V, VOLTAGE_V[:-1], RESISTOR_OHM, 0.002)


def test_twice_the_full_scale_is_six_decibels_of_lost_sensitivity() -> None:
    # 20 lg 2 = 6.0206 dB; 1 % each are sqrt(2) * 0.086859 dB.
    drift = drift_db(Estimate(80.0, 0.8), Estimate(40.0, 0.4))
    assert drift.value == pytest.approx(6.0206, abs=1e-4)
    assert drift.standard_uncertainty == pytest.approx(0.12284, rel=1e-3)
    with pytest.raises(ValueError, match="above zero"):
        drift_db(Estimate(0.0, 1.0), Estimate(40.0, 0.4))
