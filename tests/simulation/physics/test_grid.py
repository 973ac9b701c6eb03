from __future__ import annotations

import numpy as np
import pytest

from station.simulation.physics.grid import TimeGrid

GRID = TimeGrid(5000, 96000.0)


def test_a_signal_comes_back_from_its_spectrum() -> None:
    signal = np.random.default_rng(1).standard_normal(5000)
    np.testing.assert_allclose(GRID.signal(GRID.spectrum(signal)), signal, atol=1e-12)


def test_a_band_gives_the_waveform_at_its_own_rate() -> None:
    band = GRID.band_to(12e3)
    assert band.divisor == 4
    assert band.n_time == GRID.n_padded // 2  # twice as many samples as the band would need
    step_hz = 96000.0 / GRID.n_padded
    frequency_hz = 100 * step_hz
    tone = np.cos(2 * np.pi * frequency_hz * np.arange(GRID.n_padded) / 96000.0)
    waveform = band.signal(np.fft.rfft(tone))
    np.testing.assert_allclose(waveform, tone[::2], atol=1e-9)
    np.testing.assert_allclose(
        band.spectrum(waveform)[:200], np.fft.rfft(tone)[:200], atol=1e-6 * GRID.n_padded
    )


def test_a_square_folds_nowhere_into_its_band() -> None:
    band = GRID.band_to(12e3)
    bin_number = round(9e3 * GRID.n_padded / 96000.0)
    tone = np.cos(2 * np.pi * bin_number * np.arange(GRID.n_padded) / GRID.n_padded)
    squared = band.spectrum(band.signal(np.fft.rfft(tone)) ** 2)
    # cos² = ½ + ½·cos 2ωt: 18 kHz is above the band, so only the constant may be there
    assert np.max(np.abs(squared[1:])) < 1e-9 * abs(squared[0])


@pytest.mark.parametrize(("highest_hz", "divisor"), [(60e3, 1), (24e3, 2), (11e3, 4), (10.0, 16)])
def test_bands_reach_at_least_as_high_as_asked(highest_hz: float, divisor: int) -> None:
    assert GRID.band_to(highest_hz).divisor == divisor


def test_padding_outlasts_the_decay_of_a_box() -> None:
    assert (GRID.n_padded - GRID.n_samples) / GRID.rate_hz >= 0.35
