"""Each fit takes less than a hundredth of a second, and a pattern's distance next to nothing."""

from __future__ import annotations

import numpy as np
from pytest_benchmark.fixture import BenchmarkFixture

from station.analysis.electric.driverfit import fitted_driver
from station.analysis.electric.kramerskronig import phase_consistency
from station.analysis.electric.panelfit import fitted_panel
from station.analysis.plan import ResonancePlan
from station.analysis.statistics.pattern import pattern_distance
from station.analysis.statistics.population import pattern_model
from tests.ngspice.truth import truth_ohm

LONGEST_FIT_S = 0.010
POINTS = 150


def noisy_ohm(network: str, frequency_hz: np.ndarray) -> np.ndarray:
    parts = 0.003 * np.random.default_rng(1).standard_normal((2, frequency_hz.size))
    return truth_ohm(network, frequency_hz) * (1.0 + parts[0] + 1j * parts[1])


def test_driver_fit_of_150_points(benchmark: BenchmarkFixture) -> None:
    frequency_hz = np.geomspace(15.0, 20e3, POINTS)
    z_ohm = noisy_ohm("moving_coil", frequency_hz)
    benchmark(fitted_driver, frequency_hz, z_ohm, ResonancePlan(20.0, 200.0))
    assert benchmark.stats["median"] < LONGEST_FIT_S


def test_panel_fit_of_150_points(benchmark: BenchmarkFixture) -> None:
    frequency_hz = np.geomspace(5e3, 44e3, POINTS)
    z_ohm = noisy_ohm("panel", frequency_hz)
    benchmark(fitted_panel, frequency_hz, z_ohm, 50.0)
    assert benchmark.stats["median"] < LONGEST_FIT_S


def test_phase_consistency_of_420_points(benchmark: BenchmarkFixture) -> None:
    frequency_hz = np.geomspace(15.0, 44e3, 420)
    benchmark(phase_consistency, frequency_hz, noisy_ohm("hybrid", frequency_hz), 60.0, 10e3)


def test_pattern_distance_in_a_population_of_200(benchmark: BenchmarkFixture) -> None:
    rng = np.random.default_rng(2)
    frequency_hz = np.geomspace(20.0, 20e3, 120)
    curves = rng.standard_normal((200, 3)) @ rng.standard_normal((3, 120))
    curves = curves + 0.2 * rng.standard_normal(curves.shape)
    members = tuple(str(number) for number in range(200))
    model = pattern_model(frequency_hz, curves, members, 0.9)
    benchmark(pattern_distance, model, frequency_hz, curves[0])
