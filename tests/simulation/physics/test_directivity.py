from __future__ import annotations

import numpy as np
import pytest

from station.analysis.acoustic.directivity import PolarResponse, front_to_back, null_depth_db
from station.simulation.conditions import Conditions
from station.simulation.physics.air import AIR_20C, air_at
from station.simulation.physics.directivity import Arc, piston_ratio, shadow_ratio
from station.simulation.products.units import unit_truth

ARC = Arc(opening_deg=60.0, length_m=0.3)


def at_hz(*frequency_hz: float) -> np.ndarray:
    return 2j * np.pi * np.array(frequency_hz)


def db(ratio: np.ndarray) -> np.ndarray:
    return np.asarray(20 * np.log10(np.abs(ratio)))


def test_a_piston_has_its_first_null_where_the_bessel_function_has() -> None:
    # J1(3.8317) = 0 (Abramowitz, Stegun, table 9.5); a = 65 mm, 60°: f = 3.8317·c/(2π·a·sin 60°)
    area_m2 = np.pi * 0.065**2
    null_hz = 3.8317 * 343.2 / (2 * np.pi * 0.065 * np.sin(np.pi / 3))
    values = piston_ratio(at_hz(20.0, null_hz), area_m2, 60.0, AIR_20C)
    assert values[0] == pytest.approx(1.0, abs=1e-4)
    assert abs(values[1]) < 1e-4


def test_a_piston_keeps_half_its_power_where_tables_say() -> None:
    # 2·J1(x)/x = 0.7071 at x = 1.6163, the half-power angle of a round aperture
    area_m2 = np.pi * 0.05**2
    half_hz = 1.6163 * 343.2 / (2 * np.pi * 0.05 * np.sin(np.radians(30.0)))
    half = piston_ratio(at_hz(half_hz), area_m2, 30.0, AIR_20C)
    assert half[0] == pytest.approx(0.7071, abs=2e-4)


def test_a_cabinet_shades_nothing_in_front_and_most_behind() -> None:
    s = at_hz(500.0)
    front, side, back = (abs(shadow_ratio(s, 500.0, angle)[0]) for angle in (0.0, 90.0, 180.0))
    assert front == pytest.approx(1.0, rel=1e-12)
    assert back == pytest.approx(0.7071, abs=1e-4)  # first order at its corner
    assert back < side < front


def test_at_long_wavelengths_a_panel_is_a_dipole() -> None:
    # the cosine of the angle (Kinsler et al., Fundamentals of Acoustics, 4th ed., ch. 7)
    for angle_deg, expected in ((45.0, 0.707), (60.0, 0.5), (120.0, -0.5), (180.0, -1.0)):
        ratio = ARC.ratio(at_hz(60.0), angle_deg, AIR_20C)[0]
        # found near the panel, at 1 m: its arc is 4 cm deep
        assert ratio.real == pytest.approx(expected, abs=0.12), angle_deg


def test_a_panel_is_symmetric_and_one_on_its_axis() -> None:
    s = at_hz(*np.geomspace(100.0, 30e3, 40))
    np.testing.assert_allclose(ARC.ratio(s, 0.0, AIR_20C), 1.0, rtol=1e-12)
    left, right = ARC.ratio(s, 22.0, AIR_20C), ARC.ratio(s, -22.0, AIR_20C)
    np.testing.assert_allclose(left, right, rtol=1e-9)


def treble_db(angle_deg: float) -> float:
    s = at_hz(*np.geomspace(4e3, 20e3, 400))
    return float(10 * np.log10(np.mean(np.abs(ARC.ratio(s, angle_deg, AIR_20C)) ** 2)))


def test_an_arc_covers_its_own_opening_and_little_more() -> None:
    # geometry: within ±30° some piece of a 60° arc faces the listener; at its edge half of the
    # zones that matter are missing, which leaves half the pressure (Fresnel, straight edge)
    assert treble_db(7.5) == pytest.approx(0.0, abs=1.5)
    assert treble_db(15.0) == pytest.approx(0.0, abs=1.5)
    # the arc's last ray leaves at 30° from 0.286 m behind the film: 38.3° at 1 m before it
    assert treble_db(38.3) == pytest.approx(-6.0, abs=1.5)
    assert treble_db(70.0) < -14.0


def exact(frequency_hz: float, angle_deg: float) -> complex:
    """Return the same arc by brute force: many pairs of opposite point sources, close together."""
    k, radius_m, apart_m = 2 * np.pi * frequency_hz / 343.2, 0.3 / np.radians(60.0), 1e-6
    turned = np.radians((np.arange(2000) + 0.5) * 0.03 - 30.0)
    normals = np.stack([np.cos(turned), np.sin(turned)])
    places = radius_m * (normals - np.array([[1.0], [0.0]]))

    def heard(angle: float) -> complex:
        at = np.array([[np.cos(np.radians(angle))], [np.sin(np.radians(angle))]])

        def sources(moved_m: float) -> np.ndarray:
            away = np.linalg.norm(at - places - moved_m * normals, axis=0)
            return np.asarray(np.exp(-1j * k * away) / away)

        return complex(np.sum(sources(apart_m) - sources(-apart_m)))

    return heard(angle_deg) / heard(0.0)


@pytest.mark.parametrize("angle_deg", [15.0, 50.0, 90.0, 180.0])
def test_an_arc_agrees_with_pairs_of_point_sources(angle_deg: float) -> None:
    for frequency_hz in (150.0, 1000.0, 5000.0, 16e3):
        found = ARC.ratio(at_hz(frequency_hz), angle_deg, AIR_20C)[0]
        assert found == pytest.approx(exact(frequency_hz, angle_deg), abs=0.003)


def test_warm_air_stretches_the_pattern_over_frequency() -> None:
    warm = air_at(40.0)
    faster = warm.sound_m_s / AIR_20C.sound_m_s
    cold = ARC.ratio(at_hz(3000.0), 40.0, AIR_20C)[0]
    assert ARC.ratio(at_hz(3000.0 * faster), 40.0, warm)[0] == pytest.approx(cold, abs=5e-3)


def test_a_unit_has_null_and_reversed_back_where_the_analysis_looks_for_them() -> None:
    f_hz = np.geomspace(800.0, 1600.0, 60)

    def heard(angle_deg: float) -> np.ndarray:
        return unit_truth("F6A00001", 7, {}, Conditions(angle_deg=angle_deg)).response(f_hz)

    levels = np.stack([db(heard(0.0)), db(heard(90.0))])
    polar = PolarResponse(f_hz, np.array([0.0, 90.0]), levels)
    assert null_depth_db(polar, 90.0, 800.0, 1600.0) < -10.0
    back = front_to_back(f_hz, heard(0.0), heard(180.0), (800.0, 1600.0), 0.2e-3)
    assert back.correlation_ratio < -0.97


def test_a_two_way_box_has_no_reversed_back() -> None:
    f_hz = np.geomspace(100.0, 500.0, 60)
    front, back = (
        unit_truth("T2A00001", 7, {}, Conditions(angle_deg=angle_deg)).response(f_hz)
        for angle_deg in (0.0, 180.0)
    )
    heard = front_to_back(f_hz, front, back, (100.0, 500.0), 0.3e-3)
    assert heard.correlation_ratio > 0.97
