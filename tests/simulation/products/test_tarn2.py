from __future__ import annotations

import numpy as np
import pytest

from station.simulation.products.spread import Spread
from station.simulation.products.tarn2 import CHANGES, Parts, changed, produced, tarn2
from station.simulation.products.units import unit_truth
from station.simulation.products.woofer import WOOFER_CHANGES
from tests.simulation.equivalents import add_driver, of_part
from tests.simulation.nodal import ComplexArray, Nodal

F_HZ = np.geomspace(12.0, 44e3, 80)
S = 2j * np.pi * F_HZ
SERIALS = [f"T2A{number:05d}" for number in range(1, 13)]


def nodal_answer(parts: Parts) -> tuple[ComplexArray, ComplexArray]:
    """Return impedance and sound pressure per volt of a Tarn 2, by nodal analysis."""
    nodal = Nodal(S)
    nodal.add(1, 2, of_part(parts.woofer_coil, S))
    nodal.add(2, 0, of_part(parts.woofer_capacitor, S))
    add_driver(nodal, 2, 3, parts.woofer.driver)
    nodal.add(1, 4, of_part(parts.tweeter_capacitor, S))
    nodal.add(4, 0, of_part(parts.tweeter_coil, S))
    nodal.add(4, 5, of_part(parts.tweeter_resistor, S))
    add_driver(nodal, 5, 6, parts.tweeter)
    voltages, current = nodal.solved()
    woofer = voltages[3] / parts.woofer.driver.force_factor_tm
    tweeter = voltages[6] / parts.tweeter.force_factor_tm
    sound = woofer * parts.woofer.radiator.pressure_pa_m_s(S)
    return 1.0 / current, sound + tweeter * parts.tweeter_radiator.pressure_pa_m_s(S)


@pytest.mark.parametrize("serial", SERIALS[:3])
def test_impedance_and_response_agree_with_nodal_analysis(serial: str) -> None:
    unit = unit_truth(serial, 7, {})
    impedance_ohm, response = nodal_answer(produced(Spread(serial, 7)))
    np.testing.assert_allclose(unit.impedance(F_HZ), impedance_ohm, rtol=1e-9)
    np.testing.assert_allclose(unit.response(F_HZ), response, rtol=1e-9)


def test_faults_agree_with_nodal_analysis_too() -> None:
    parts = produced(Spread("T2A00001", 7))
    for name, severity in (("weak_magnet", 0.2), ("wrong_capacitor", 0.2), ("air_leak", 64.0)):
        impedance_ohm, response = nodal_answer(changed(parts, name, severity))
        unit = unit_truth("T2A00001", 7, {name: severity})
        np.testing.assert_allclose(unit.impedance(F_HZ), impedance_ohm, rtol=1e-9)
        np.testing.assert_allclose(unit.response(F_HZ), response, rtol=1e-9)


def level_db(serial: str, f_hz: np.ndarray, faults: dict[str, float]) -> np.ndarray:
    response = unit_truth(serial, 7, faults).response(f_hz)
    return np.asarray(20 * np.log10(np.abs(response) * 2.83 / 20e-6))


def test_units_are_what_the_model_promises() -> None:
    low_hz, all_hz = np.linspace(40.0, 75.0, 3501), np.geomspace(20.0, 20e3, 2000)
    band_hz = np.geomspace(300.0, 10e3, 300)
    for serial in SERIALS:
        unit = unit_truth(serial, 7, {})
        resonance_hz = low_hz[np.abs(unit.impedance(low_hz)).argmax()]
        assert 53.0 < resonance_hz < 60.0
        # IEC 60268-5: rated 6 ohm means nowhere below 80 % of it
        assert np.abs(unit.impedance(all_hz)).min() > 4.8
        level = level_db(serial, band_hz, {})
        assert np.mean(level) == pytest.approx(86.5, abs=1.0)
        assert np.ptp(level) < 4.0


def test_reversed_tweeter_turns_its_own_band_only() -> None:
    good, bad = (unit_truth("T2A00001", 7, f) for f in ({}, {"reversed_tweeter": 1.0}))
    ratio = bad.response(np.array([200.0, 10e3])) / good.response(np.array([200.0, 10e3]))
    assert ratio[0] == pytest.approx(1.0, abs=0.01)
    assert ratio[1] == pytest.approx(-1.0, abs=0.02)
    np.testing.assert_allclose(bad.impedance(F_HZ), good.impedance(F_HZ), rtol=1e-12)


@pytest.mark.parametrize(("fault", "silent_hz"), [("dead_woofer", 200.0), ("dead_tweeter", 10e3)])
def test_a_dead_driver_silences_its_band(fault: str, silent_hz: float) -> None:
    at_hz = np.array([silent_hz])
    lost_db = level_db("T2A00001", at_hz, {}) - level_db("T2A00001", at_hz, {fault: 1.0})
    assert lost_db[0] > 30.0


@pytest.mark.parametrize("number", [1, 2, 3, 4])
def test_each_open_crossover_part_changes_the_impedance(number: int) -> None:
    good, bad = (unit_truth("T2A00001", 7, f) for f in ({}, {"open_crossover_part": number}))
    change = np.abs(bad.impedance(F_HZ) / good.impedance(F_HZ) - 1.0)
    assert change.max() > 0.3


def test_every_change_belongs_to_one_table() -> None:
    assert not set(CHANGES) & set(WOOFER_CHANGES)


def test_a_foreign_fault_is_a_callers_mistake() -> None:
    with pytest.raises(KeyError):
        tarn2(Spread("T2A00001", 7), {"missing_bias": 1.0})
