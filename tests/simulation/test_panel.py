from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.simulation.fell60 import NOMINAL
from station.simulation.grid import TimeGrid
from station.simulation.panel import Panel

GRID = TimeGrid(19200, 96000.0)
FLAT = replace(NOMINAL.panel, dipole_hz=1e-3, rolloff_hz=1e9, modes=())


def tone(frequency_hz: float, peak_v: float) -> np.ndarray:
    """Return the spectrum of a tone with whole cycles over the padded length."""
    cycles = round(frequency_hz * GRID.n_padded / GRID.rate_hz)
    turn = 2 * np.pi * cycles * np.arange(GRID.n_padded) / GRID.n_padded
    return np.asarray(np.fft.rfft(peak_v * np.cos(turn)))


def peak_of(spectrum: np.ndarray, frequency_hz: float) -> float:
    cycles = round(frequency_hz * GRID.n_padded / GRID.rate_hz)
    return float(2 * abs(spectrum[cycles]) / GRID.n_padded)


def with_unbalance(ratio: float) -> Panel:
    return replace(FLAT, unbalance_ratio=ratio)


def test_unbalance_makes_the_second_harmonic_a_square_law_makes() -> None:
    # p ∝ v + β·v²/Vbias: the second harmonic is β·V/(2·Vbias) = 0.06·300/6000 = 0.3 %
    panel, voltage = with_unbalance(0.06), tone(1000.0, 300.0)
    first = peak_of(panel.linear_pa(voltage, GRID.s), 1000.0)
    second = peak_of(panel.square_pa(voltage, GRID), 2000.0)
    assert second / first == pytest.approx(0.003, rel=1e-3)


def test_a_balanced_panel_has_no_second_harmonic() -> None:
    assert not with_unbalance(0.0).square_pa(tone(1000.0, 300.0), GRID).any()


def test_the_square_law_survives_without_bias() -> None:
    panel, voltage = replace(with_unbalance(0.06), bias_ratio=0.0), tone(1000.0, 300.0)
    assert not panel.linear_pa(voltage, GRID.s).any()
    assert peak_of(panel.square_pa(voltage, GRID), 2000.0) > 0.0


def test_the_second_harmonic_of_the_top_octave_folds_nowhere() -> None:
    bent = with_unbalance(0.06).square_pa(tone(30e3, 300.0), GRID)
    level = peak_of(with_unbalance(0.06).square_pa(tone(1000.0, 300.0), GRID), 2000.0)
    # 60 kHz would fold to 36 kHz at 96 kHz
    assert peak_of(bent, 36e3) < 1e-6 * level


def test_the_back_is_out_of_phase() -> None:
    front = FLAT.linear_pa(tone(1000.0, 300.0), GRID.s)
    back = FLAT.behind(front)
    assert np.real(back[200:210] / front[200:210]) == pytest.approx(np.full(10, -0.9))


def test_arcs_come_more_often_at_higher_voltage() -> None:
    arcing, rng = replace(FLAT, arc_db_spl=68.0), np.random.default_rng
    quiet = arcing.arcs_pa(tone(1000.0, 150.0), GRID, rng(1))
    loud = arcing.arcs_pa(tone(1000.0, 450.0), GRID, rng(1))
    assert np.count_nonzero(loud) > 5 * max(np.count_nonzero(quiet), 1)
    # 68 dB SPL peak = 20 µPa · 10^3.4 = 50.2 mPa
    assert np.max(np.abs(loud)) == pytest.approx(50.2e-3, rel=0.01)
    assert not FLAT.arcs_pa(tone(1000.0, 450.0), GRID, rng(1)).any()
