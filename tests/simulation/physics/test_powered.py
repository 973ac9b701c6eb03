from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.simulation.physics.grid import TimeGrid
from station.simulation.physics.relaxation import Source
from station.simulation.products.scree12 import NOMINAL, noisy
from station.simulation.products.units import simulated_unit

ELECTRONICS = NOMINAL.electronics


def test_limiter_leaves_small_signals_and_never_passes_the_rail() -> None:
    small_v = np.array([1.0, -5.0])
    np.testing.assert_allclose(ELECTRONICS.limited_v(small_v), small_v, rtol=2e-6)
    assert np.max(np.abs(ELECTRONICS.limited_v(np.array([60.0, -500.0])))) <= ELECTRONICS.peak_v


def test_noise_has_the_stated_hiss_and_hum() -> None:
    n, rate_hz = 96000, 96000.0
    quiet = replace(ELECTRONICS, noise_v=0.0)
    hum_v = quiet.own_noise_v(n, rate_hz, np.random.default_rng(1))
    lines = np.abs(np.fft.rfft(hum_v)) / n * np.sqrt(2.0)
    np.testing.assert_allclose(lines[[50, 100, 150, 200]], ELECTRONICS.hum_v, rtol=1e-6)
    hiss = replace(ELECTRONICS, hum_v=()).own_noise_v(n, rate_hz, np.random.default_rng(1))
    assert np.std(hiss) == pytest.approx(ELECTRONICS.noise_v, rel=0.02)


def test_noisy_amplifier_is_louder_by_its_severity() -> None:
    louder = noisy(NOMINAL, 30.0).electronics
    assert louder.noise_v / ELECTRONICS.noise_v == pytest.approx(31.62, abs=0.01)  # 10^(30/20)
    assert louder.hum_v[1] / ELECTRONICS.hum_v[1] == pytest.approx(31.62, abs=0.01)


def test_unit_hums_without_any_drive() -> None:
    grid = TimeGrid(96000, 96000.0)
    silence = Source(np.zeros_like(grid.s), np.zeros_like(grid.s))
    levels = []
    for faults in ({}, {"noisy_amplifier": 30.0}):
        unit = simulated_unit("S12A00001", 7, faults)
        emission = unit.play(silence, grid, np.random.default_rng(3))
        assert not emission.current_a.any()
        levels.append(20 * np.log10(np.std(grid.signal(emission.front_pa)) / 20e-6))
    assert levels[1] - levels[0] == pytest.approx(30.0, abs=0.5)
    assert levels[0] < 30.0
