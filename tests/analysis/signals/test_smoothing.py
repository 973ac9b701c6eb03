from __future__ import annotations

import numpy as np
import pyfar
import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.analysis.signals.bands import band_centres, band_edges
from station.analysis.signals.smoothing import band_average, band_power
from tests.analysis.closedforms import sealed_box

STEP_HZ = 0.5


def test_straight_line_averages_to_its_middle() -> None:
    power = 3.0 + 2.0 * STEP_HZ * np.arange(1000)
    lower_hz, upper_hz = np.array([10.2, 100.0, 3.31]), np.array([13.7, 400.0, 3.32])
    # The mean of a + b f over a band is a + b times the band's middle; the last band lies
    # within one bin.
    assert band_power(power, STEP_HZ, lower_hz, upper_hz) == pytest.approx(
        3.0 + (lower_hz + upper_hz)
    )


def test_band_within_a_bin_reads_between_its_neighbours() -> None:
    power = np.array([0.0, 0.0, 4.0, 0.0, 0.0])
    means = band_power(power, 1.0, np.array([1.45, 0.0]), np.array([1.55, 4.0]))
    # A triangle of height 4 between 1 and 3: 2 at 1.5; area 4 over a width of 4.
    assert means == pytest.approx([2.0, 1.0])


@given(st.floats(1.0, 200.0), st.floats(0.01, 200.0), st.floats(1e-9, 1e9))
def test_constant_stays_itself(lower_hz: float, width_hz: float, level: float) -> None:
    power = np.full(1000, level)
    mean = band_power(power, STEP_HZ, np.array([lower_hz]), np.array([lower_hz + width_hz]))
    assert mean == pytest.approx([level], rel=1e-9)


def test_quiet_band_beside_a_loud_one_keeps_its_level() -> None:
    power = np.concatenate([np.ones(1000), np.full(1000, 1e-10)])
    mean = band_power(power, STEP_HZ, np.array([20.0, 600.0]), np.array([400.0, 900.0]))
    assert mean == pytest.approx([1.0, 1e-10], rel=1e-2)


def test_same_data_as_pyfar_gives_the_same_twelfth_octaves() -> None:
    # pyfar (own implementation, Tylka et al. 2017) averages over log frequency, we over frequency
    # as a band filter does: within a twelfth of an octave of a smooth curve the difference is of
    # second order in the band's width.
    n, rate_hz = 2**15, 48e3
    frequency_hz = np.fft.rfftfreq(n, 1.0 / rate_hz)
    power = np.abs(sealed_box(frequency_hz)) ** 2
    spectrum = pyfar.Signal(power, rate_hz, n_samples=n, domain="freq", fft_norm="none")
    smoothed, _ = pyfar.dsp.smooth_fractional_octave(spectrum, 12)
    centres_hz = band_centres(100.0, 18e3, 12)
    theirs = np.interp(centres_hz, frequency_hz, np.abs(smoothed.freq[0]))
    ours = band_power(power, rate_hz / n, *band_edges(centres_hz, 12))
    assert np.max(np.abs(10.0 * np.log10(ours / theirs))) < 0.02


def test_complex_average_survives_a_delay() -> None:
    step_hz, delay_s = 1.0, 0.02
    frequency_hz = step_hz * np.arange(20_000)
    values = sealed_box(frequency_hz) * np.exp(-2j * np.pi * frequency_hz * delay_s)
    centres_hz = band_centres(100.0, 15e3, 12)
    lower_hz, upper_hz = band_edges(centres_hz, 12)
    means = band_average(values, step_hz, delay_s, lower_hz, upper_hz)
    # Without the delay the response is smooth: its mean is its value, to second order.
    assert np.max(np.abs(means / sealed_box(centres_hz) - 1.0)) < 2e-3


@pytest.mark.parametrize(("lower_hz", "upper_hz"), [(-1.0, 5.0), (5.0, 5.0), (5.0, 11.0)])
def test_bands_beyond_the_spectrum_are_refused(lower_hz: float, upper_hz: float) -> None:
    with pytest.raises(ValueError, match="bands must lie"):
        band_power(np.ones(11), 1.0, np.array([lower_hz]), np.array([upper_hz]))
