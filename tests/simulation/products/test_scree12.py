from __future__ import annotations

import numpy as np
import pytest

from station.simulation.products.scree12 import AMPLIFIER_OUTPUT, Parts, produced
from station.simulation.products.spread import Spread
from station.simulation.products.units import unit_truth
from tests.simulation.equivalents import add_driver
from tests.simulation.nodal import ComplexArray, Nodal

F_HZ = np.geomspace(12.0, 2e3, 60)
S = 2j * np.pi * F_HZ
SERIALS = [f"S12A{number:05d}" for number in range(1, 13)]


def second_order(s: ComplexArray, corner_hz: float, q: float) -> ComplexArray:
    w0 = 2 * np.pi * corner_hz
    return np.asarray(s * s + s * w0 / q + w0 * w0)


def nodal_response(parts: Parts) -> ComplexArray:
    """Return sound pressure per volt at the input, amplifier as an ideal source."""
    nodal = Nodal(S)
    nodal.add(1, 2, AMPLIFIER_OUTPUT.resistance_ohm)
    add_driver(nodal, 2, 3, parts.woofer.driver)
    velocity = nodal.solved()[0][3] / parts.woofer.driver.force_factor_tm
    box = parts.electronics
    gain = box.gain_ratio * S * S / second_order(S, box.subsonic_hz, 0.8)
    corner = (2 * np.pi * box.lowpass_hz) ** 2
    gain = gain * (corner / second_order(S, box.lowpass_hz, 0.707)) ** 2
    return np.asarray(gain * velocity * parts.woofer.radiator.pressure_pa_m_s(S))


@pytest.mark.parametrize("serial", SERIALS[:3])
def test_response_agrees_with_nodal_analysis(serial: str) -> None:
    expected = nodal_response(produced(Spread(serial, 7)))
    np.testing.assert_allclose(unit_truth(serial, 7, {}).response(F_HZ), expected, rtol=1e-9)


def test_terminals_show_the_input_resistance_whatever_the_driver_does() -> None:
    f_hz = np.array([20.0, 80.0, 200.0])
    for serial in SERIALS:
        z = unit_truth(serial, 7, {}).impedance(f_hz)
        np.testing.assert_allclose(np.abs(z), 20e3, rtol=0.03)
    good, dead = (unit_truth(SERIALS[0], 7, f) for f in ({}, {"dead_woofer": 1.0}))
    np.testing.assert_allclose(dead.impedance(f_hz), good.impedance(f_hz), rtol=1e-12)


def test_sensitivity_is_what_the_model_promises() -> None:
    f_hz = np.geomspace(35.0, 80.0, 100)
    for serial in SERIALS:
        response = unit_truth(serial, 7, {}).response(f_hz)
        assert np.mean(20 * np.log10(np.abs(response) * 0.5 / 20e-6)) == pytest.approx(90.5, abs=1)


def test_slopes_are_fourth_order() -> None:
    # LR4 falls by 24.1 dB an octave far above its corner; the woofer and the baffle add their own,
    # equal in both units, so a corner 1.3 times higher is worth 40·lg 1.3² = 9.12 dB there
    good, bad = (unit_truth(SERIALS[0], 7, f) for f in ({}, {"wrong_filter_setting": 1.3}))
    more = 20 * np.log10(np.abs(bad.response(F_HZ[-1:]) / good.response(F_HZ[-1:])))[0]
    assert more == pytest.approx(9.12, abs=0.05)
