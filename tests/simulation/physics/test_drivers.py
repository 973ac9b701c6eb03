from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.simulation.physics.drivers import Curves, Driver, with_stiff_surround, with_weak_magnet
from station.simulation.physics.radiation import box_stiffness_n_m

S = 2j * np.pi * np.geomspace(10.0, 20e3, 40)
STRAIGHT = Curves(0.0, 0.0, 0.0, 0.0, 0.0, 1e-3, 0.0, 0.0)
# Invented. Small, JAES 20(5), 1972: Lces = Bl² Cms = 64 · 0.125e-3 = 8 mH, Cmes = Mms / Bl²
# = 0.032 / 64 = 500 µF, Res = Bl² / Rms = 64 / 2.5 = 25.6 ohm,
# fs = 1 / (2π √(8e-3 · 500e-6)) = 250 / π = 79.577 Hz.
DRIVER = Driver(
    resistance_ohm=5.0,
    coil_ohm_sn=0.4e-3,
    coil_exponent=1.0,
    force_factor_tm=8.0,
    moving_mass_kg=32e-3,
    friction_kg_s=2.5,
    stiffness_n_m=8e3,
    box_stiffness_n_m=0.0,
    box_leak_s=1.0,
    curves=STRAIGHT,
    linear_above_hz=12e3,
)


def motional_ohm(driver: Driver, frequency_hz: float) -> complex:
    at = driver.at(np.array([2j * np.pi * frequency_hz]))
    return complex((2j * np.pi * frequency_hz * at.force_tm**2 / at.stiffness_n_m)[0])


def test_motional_impedance_peaks_where_and_as_high_as_mass_spring_and_friction_say() -> None:
    frequency_hz = np.linspace(70.0, 90.0, 2001)
    peak = np.array([abs(motional_ohm(DRIVER, f)) for f in frequency_hz])
    assert frequency_hz[peak.argmax()] == pytest.approx(79.577, abs=0.011)
    assert peak.max() == pytest.approx(25.6, abs=0.001)


def test_box_air_is_as_stiff_as_small_says() -> None:
    # rho0 c² = 1.204 · 343.2² = 141.8 kPa (20 °C); K = 141.8e3 · 0.0132² / 0.020 = 1235.5 N/m
    assert box_stiffness_n_m(20e-3, 132e-4) == pytest.approx(1235.5, abs=0.5)


def test_a_tight_box_raises_the_resonance_as_its_stiffness_demands() -> None:
    boxed = replace(DRIVER, box_stiffness_n_m=3 * DRIVER.stiffness_n_m, box_leak_s=1e4)
    # four times the stiffness doubles the resonance
    at_double = boxed.at(np.array([2j * np.pi * 2 * 79.577])).stiffness_n_m[0]
    assert abs(at_double.real) < 1e-3 * DRIVER.stiffness_n_m


def test_a_fully_leaking_box_is_no_box() -> None:
    boxed = replace(DRIVER, box_stiffness_n_m=1e5, box_leak_s=1e-9)
    np.testing.assert_allclose(
        boxed.at(S).stiffness_n_m, DRIVER.at(S).stiffness_n_m, rtol=2e-2, atol=2.0
    )


def test_shorted_turns_agree_with_two_coupled_coils_on_one_cone() -> None:
    share = 0.12
    shorted = replace(DRIVER, shorted_ratio=share)
    at = shorted.at(S)
    seen = at.blocked_ohm + S * at.force_tm**2 / at.stiffness_n_m
    live, bl, r, ind = 1 - share, DRIVER.force_factor_tm, DRIVER.resistance_ohm, 0.4e-3
    for index, s in enumerate(S):
        mechanics = s * DRIVER.moving_mass_kg + DRIVER.friction_kg_s + DRIVER.stiffness_n_m / s
        mutual = 0.7 * s * ind * live * share
        # unknowns: live current, shorted current, velocity; one volt on the live coil
        equations = np.array(
            [
                [r * live + s * ind * live**2, mutual, bl * live],
                [mutual, r * share + s * ind * share**2, bl * share],
                [-bl * live, -bl * share, mechanics],
            ]
        )
        current = np.linalg.solve(equations, np.array([1.0, 0.0, 0.0]))[0]
        assert seen[index] == pytest.approx(1.0 / current, rel=1e-9)


def test_curves_are_one_at_rest_and_bend_as_stated() -> None:
    curves = Curves(10.0, 1e4, 20.0, 3e4, 0.25, 4e-3, 5e-3, 1e-2)
    rest = np.zeros(1)
    for ratio in (curves.force_ratio(rest, rest), curves.stiffness_ratio(rest)):
        assert ratio[0] == 1.0
    assert curves.coil_ratio(rest)[0] == 1.0
    x_m = np.array([2e-3])
    # exp(-0.02 - 0.04) = 0.941765; 1 + 0.04 + 0.12 = 1.16; 1 - 0.25·tanh(0.5) = 0.884471
    assert curves.force_ratio(x_m, rest)[0] == pytest.approx(0.941765, abs=1e-6)
    assert curves.stiffness_ratio(x_m)[0] == pytest.approx(1.16)
    assert curves.coil_ratio(x_m)[0] == pytest.approx(0.884471, abs=1e-6)
    # 1 + 0.5·(0.005 - 0.01·0.5) = 1
    assert curves.force_ratio(rest, np.array([0.5]))[0] == pytest.approx(1.0)


def test_coil_gradient_is_the_slope_of_the_coil_curve() -> None:
    curves = Curves(0.0, 0.0, 0.0, 0.0, 0.25, 4e-3, 0.0, 0.0)
    x_m, step_m = np.linspace(-8e-3, 8e-3, 9), 1e-7
    slope = (curves.coil_ratio(x_m + step_m) - curves.coil_ratio(x_m - step_m)) / (2 * step_m)
    np.testing.assert_allclose(curves.coil_gradient_per_m(x_m), slope, rtol=1e-6)


def test_weak_magnet_lowers_the_peak_by_its_square() -> None:
    peak = abs(motional_ohm(with_weak_magnet(DRIVER, 0.2), 79.577))
    assert peak == pytest.approx(0.64 * 25.6, abs=0.001)  # Res goes with Bl²


def test_stiff_surround_raises_the_resonance_by_its_square_root() -> None:
    stiff = with_stiff_surround(DRIVER, 0.21)
    at = stiff.at(np.array([2j * np.pi * 1.1 * 79.577]))
    assert abs(at.stiffness_n_m[0].real) < 1e-3 * DRIVER.stiffness_n_m


def test_an_open_coil_draws_no_current() -> None:
    at = replace(DRIVER, coil_open=True).at(S)
    assert np.min(np.abs(at.blocked_ohm)) > 1e8
