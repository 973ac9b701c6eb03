from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.fft

from station.analysis.signals.sweep import Sweep, sweep_spectrum, sweep_voltage
from tests.analysis.closedforms import SWEEP

# Harmonic 3 of 8 kHz lies far below half the rate, so that no image disturbs.
LOW_SWEEP = Sweep(20.0, 24.0, 8000.0, 1.0, 1.0, 0.0, 0.0, 96e3)


def test_rate_times_start_is_whole() -> None:
    # Novak et al. 2015: what makes sin(n phi(t)) the same sweep, earlier.
    cycles = SWEEP.rate_s * SWEEP.start_hz
    assert cycles == pytest.approx(round(cycles), abs=1e-12)
    assert SWEEP.true_duration_s == pytest.approx(1.0, rel=0.2)  # rounding L to periods of 15 Hz


@pytest.mark.parametrize("order", [2, 3])
def test_harmonic_is_the_sweep_shifted_by_l_ln_n(order: int) -> None:
    # sin(n phi(t)) = sin(phi(t + L ln n)), Novak et al. 2015, eq. (36): in the spectrum a phase of
    # +2 pi f L ln n, where sweep and harmonic both are at full level.
    sweep = LOW_SWEEP
    n = 2 * sweep.sweep_samples
    time_s = np.arange(sweep.sweep_samples) / sweep.rate_hz
    growth = np.exp(time_s / sweep.rate_s)
    phase = 2.0 * np.pi * sweep.start_hz * sweep.rate_s * (growth - 1.0)
    fundamental = scipy.fft.rfft(np.sin(phase), n)
    harmonic = scipy.fft.rfft(np.sin(order * phase), n)
    frequency_hz = np.arange(fundamental.size) * sweep.rate_hz / n
    inside = (frequency_hz > 300.0) & (frequency_hz < 5000.0)
    shift = np.exp(2j * np.pi * frequency_hz * sweep.rate_s * math.log(order))
    ratio = harmonic[inside] / (fundamental * shift)[inside]
    # Both end abruptly at different frequencies, which leaves some per cent of ripple.
    assert np.max(np.abs(ratio - 1.0)) < 0.06
    assert abs(np.mean(ratio) - 1.0) < 1e-3


def test_analytic_spectrum_is_that_of_the_samples_above_100_hz() -> None:
    # The samples' own discrete Fourier transform is the truth here.
    n = SWEEP.n_samples
    measured = scipy.fft.rfft(sweep_voltage(SWEEP), n)
    frequency_hz = np.arange(measured.size) * SWEEP.rate_hz / n
    inside = (frequency_hz > 100.0) & (frequency_hz < 35e3)
    lead_in = np.exp(-2j * np.pi * frequency_hz[inside] * SWEEP.lead_in_samples / SWEEP.rate_hz)
    peak_v = math.sqrt(2.0) * SWEEP.level_v
    analytic = peak_v * SWEEP.rate_hz * sweep_spectrum(SWEEP, frequency_hz[inside]) * lead_in
    ratio = measured[inside] / analytic
    assert np.max(np.abs(20.0 * np.log10(np.abs(ratio)))) < 0.05
    assert np.max(np.abs(np.angle(ratio))) < 0.005


def test_level_is_rms_and_gaps_are_silent() -> None:
    voltage_v = sweep_voltage(SWEEP)
    assert voltage_v.size == SWEEP.n_samples
    assert not voltage_v[: SWEEP.lead_in_samples].any()
    assert not voltage_v[SWEEP.lead_in_samples + SWEEP.sweep_samples :].any()
    # Root of two is the crest factor of a sine.
    assert np.max(np.abs(voltage_v)) == pytest.approx(math.sqrt(2.0) * 2.83, rel=1e-4)
    first = SWEEP.lead_in_samples + round(SWEEP.time_of(100.0) * SWEEP.rate_hz)
    last = SWEEP.lead_in_samples + round(SWEEP.time_of(30e3) * SWEEP.rate_hz)
    assert np.sqrt(np.mean(voltage_v[first:last] ** 2)) == pytest.approx(2.83, rel=2e-3)


def test_passes_a_frequency_when_it_says() -> None:
    voltage_v = sweep_voltage(SWEEP)
    at = SWEEP.lead_in_samples + round(SWEEP.time_of(1000.0) * SWEEP.rate_hz)
    crossings = np.flatnonzero(np.diff(np.signbit(voltage_v[at - 480 : at + 480])))
    # 960 samples are 10 ms: 10 periods of 1 kHz, 20 zero crossings; 4 % slower to faster.
    assert crossings.size == pytest.approx(20, abs=1)


@pytest.mark.parametrize(
    "wrong",
    [
        (0.0, 19.0, 44e3, 1.0, 2.83, 0.1, 0.4, 96e3),
        (20.0, 19.0, 44e3, 1.0, 2.83, 0.1, 0.4, 96e3),
        (15.0, 19.0, 48e3, 1.0, 2.83, 0.1, 0.4, 96e3),
        (15.0, 19.0, 44e3, 0.01, 2.83, 0.1, 0.4, 96e3),
        (15.0, 19.0, 44e3, 1.0, 2.83, -0.1, 0.4, 96e3),
    ],
)
def test_impossible_sweeps_are_refused(wrong: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match=r"need|must|short"):
        Sweep(*wrong)


def test_spectrum_at_zero_hertz_is_refused() -> None:
    with pytest.raises(ValueError, match="above 0 Hz"):
        sweep_spectrum(SWEEP, np.array([0.0, 1.0]))
