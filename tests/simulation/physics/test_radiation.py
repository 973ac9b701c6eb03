from __future__ import annotations

import numpy as np
import pytest

from station.simulation.physics.radiation import Mode, Radiator

PLAIN = Radiator(
    area_m2=0.0132,
    baffle_step_hz=350.0,
    rolloff_hz=1e6,
    rolloff_q_ratio=0.7,
    modes=(),
    shade_hz=500.0,
)


def at(radiator: Radiator, frequency_hz: float) -> complex:
    return complex(radiator.pressure_pa_m_s(np.array([2j * np.pi * frequency_hz]))[0])


def test_low_frequencies_radiate_into_the_full_sphere() -> None:
    # p = rho0·f·Sd·v/(2·r): 1.204 · 1 · 0.0132 / 2 = 7.946 mPa per m/s at 1 Hz and 1 m
    assert abs(at(PLAIN, 1.0)) == pytest.approx(7.946e-3, rel=1e-3)


def test_high_frequencies_radiate_into_half_of_it_and_are_twice_as_strong() -> None:
    assert abs(at(PLAIN, 20e3)) / 20e3 == pytest.approx(2 * 7.946e-3, rel=1e-3)


def test_positive_acceleration_gives_positive_pressure() -> None:
    # IEC 60268-5: a cone that moves out raises the pressure; p is in phase with s·v
    assert (at(PLAIN, 1.0) / 1j).real > 0.0


def test_a_mode_has_its_gain_at_its_frequency_and_none_far_away() -> None:
    mode = Mode(4000.0, 0.2, 3.0)
    peak, low, high = np.abs(mode.at(2j * np.pi * np.array([4000.0, 40.0, 400e3])))
    assert peak == pytest.approx(1.2, rel=1e-9)
    assert low == pytest.approx(1.0, abs=1e-3)
    assert high == pytest.approx(1.0, abs=1e-3)


def test_treble_is_shaded_behind_the_cabinet() -> None:
    # first order: 1/sqrt(2) at its corner
    ratio = np.abs(PLAIN.ratio_at(2j * np.pi * np.array([1.0, 500.0]), 180.0))
    np.testing.assert_allclose(ratio, [1.0, 0.7071], atol=1e-3)
