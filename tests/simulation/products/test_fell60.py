from __future__ import annotations

import numpy as np
import pytest

from station.simulation.products.fell60 import TURNS_RATIO, Parts, changed, produced
from station.simulation.products.spread import Spread
from station.simulation.products.units import unit_truth
from tests.simulation.equivalents import add_driver, of_part
from tests.simulation.nodal import ComplexArray, Nodal

F_HZ = np.geomspace(12.0, 44e3, 80)
S = 2j * np.pi * F_HZ
SERIALS = [f"F6A{number:05d}" for number in range(1, 41)]


def nodal_answer(parts: Parts) -> tuple[ComplexArray, ComplexArray]:
    """Return impedance and sound pressure per volt of a Fell 60, by nodal analysis."""
    nodal = Nodal(S)
    nodal.add(1, 2, of_part(parts.woofer_coil, S))
    nodal.add(2, 0, of_part(parts.woofer_capacitor, S))
    add_driver(nodal, 2, 3, parts.woofer.driver)
    nodal.add(1, 4, of_part(parts.panel_capacitor, S))
    nodal.add(4, 0, of_part(parts.panel_coil, S))
    nodal.add(4, 0, of_part(parts.panel_resistor, S))
    nodal.add(4, 5, of_part(parts.leakage, S))
    nodal.transformers.append((5, 6, TURNS_RATIO))
    nodal.add(6, 7, of_part(parts.secondary, S))
    nodal.add(7, 0, of_part(parts.panel_capacitance, S))
    voltages, current = nodal.solved()
    woofer = voltages[3] / parts.woofer.driver.force_factor_tm
    sound = woofer * parts.woofer.radiator.pressure_pa_m_s(S)
    panel = parts.panel
    force = panel.pressure_pa_v * panel.bias_ratio * voltages[7]
    return 1.0 / current, sound + panel.shape(S) * force


@pytest.mark.parametrize("serial", SERIALS[:3])
def test_impedance_and_response_agree_with_nodal_analysis(serial: str) -> None:
    unit = unit_truth(serial, 7, {})
    impedance_ohm, response = nodal_answer(produced(Spread(serial, 7)))
    np.testing.assert_allclose(unit.impedance(F_HZ), impedance_ohm, rtol=1e-8)
    np.testing.assert_allclose(unit.response(F_HZ), response, rtol=1e-8)


def test_a_wrong_capacitor_agrees_with_nodal_analysis_too() -> None:
    parts = changed(produced(Spread("F6A00001", 7)), "wrong_capacitor", -0.3)
    unit = unit_truth("F6A00001", 7, {"wrong_capacitor": -0.3})
    np.testing.assert_allclose(unit.impedance(F_HZ), nodal_answer(parts)[0], rtol=1e-8)


def test_impedance_is_lowest_between_20_and_25_khz_and_inductive_above() -> None:
    f_hz = np.linspace(5e3, 40e3, 3501)
    for serial in SERIALS:
        z = unit_truth(serial, 7, {}).impedance(f_hz)
        lowest = np.abs(z).argmin()
        assert 20e3 < f_hz[lowest] < 25e3
        assert 1.6 < abs(z[lowest]) < 2.5
        assert np.all(z.imag[f_hz > 25.5e3] > 0.0)
        assert np.all(z.imag[f_hz < 20e3] < 0.0)


def test_panel_reflects_its_capacitance_by_the_turns_ratio_squared() -> None:
    # 1 nF behind 1:75 is 5.625 µF at the primary; at 5 kHz that is 5.66 ohm
    unit = unit_truth("F6A00001", 7, {"open_crossover_part": 2})
    parts = produced(Spread("F6A00001", 7))
    reflected_f = (parts.panel_capacitance.capacitance_f or 0.0) * 75.0**2
    assert reflected_f == pytest.approx(5.625e-6, rel=0.05)
    f_hz = np.array([5000.0])
    shunt_s = 1.0 / parts.panel_resistor.resistance_ohm
    series_f = parts.panel_capacitor.capacitance_f or 0.0
    rough_ohm = 1.0 / abs(shunt_s + 2j * np.pi * 5000.0 * reflected_f)
    assert series_f > 5 * reflected_f
    assert abs(unit.impedance(f_hz)[0]) == pytest.approx(rough_ohm, rel=0.25)


def test_sensitivity_is_what_the_model_promises() -> None:
    f_hz = np.geomspace(200.0, 10e3, 300)
    for serial in SERIALS[:12]:
        response = unit_truth(serial, 7, {}).response(f_hz)
        level = 20 * np.log10(np.abs(response) * 2.83 / 20e-6)
        assert np.mean(level) == pytest.approx(88.0, abs=1.0)
        assert np.ptp(level) < 4.0


def test_lost_bias_lowers_the_panel_and_leaves_the_impedance() -> None:
    good, bad = (unit_truth("F6A00001", 7, f) for f in ({}, {"low_bias": 0.2}))
    ratio = abs(bad.response(np.array([3e3])) / good.response(np.array([3e3])))[0]
    assert 20 * np.log10(ratio) == pytest.approx(-1.94, abs=0.02)  # 20·lg 0.8
    np.testing.assert_allclose(bad.impedance(F_HZ), good.impedance(F_HZ), rtol=1e-12)


def test_reversed_panel_turns_its_own_band_only() -> None:
    good, bad = (unit_truth("F6A00001", 7, f) for f in ({}, {"reversed_panel": 1.0}))
    ratio = bad.response(np.array([80.0, 5e3])) / good.response(np.array([80.0, 5e3]))
    assert ratio[0] == pytest.approx(1.0, abs=0.05)
    assert ratio[1] == pytest.approx(-1.0, abs=0.02)


@pytest.mark.parametrize("fault", ["dead_panel", "missing_bias"])
def test_a_silent_panel_leaves_only_the_woofer(fault: str) -> None:
    good, bad = (unit_truth("F6A00001", 7, f) for f in ({}, {fault: 1.0}))
    assert abs(bad.response(np.array([5e3])) / good.response(np.array([5e3])))[0] < 0.01
