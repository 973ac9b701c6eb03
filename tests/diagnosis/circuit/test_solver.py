"""The solver against ngspice, closed forms, and differences."""

from __future__ import annotations

import math

import numpy as np
import pytest

from station.diagnosis.circuit.building import network_of
from station.diagnosis.circuit.loudness import level_slopes, levels_db, slopes_of_all
from station.diagnosis.circuit.network import Mode, Network
from station.diagnosis.circuit.solver import impedance_ohm, impedance_slopes
from station.judging.tables.netlisttables import NetlistTable
from tests.diagnosis.netlists import NAMES, netlist, sections
from tests.diagnosis.truth import saved_exact, values_of

HZ = np.geomspace(20.0, 20e3, 60)
# From memory, no source: a textbook's woofer of 6 ohm, 7 T·m and 20 g on 1 N/mm.
DRIVER = {
    "noise_ratio": 0.003,
    "cable": {"ohm": 1e-12, "ohm_tolerance": 0.1, "gain_tolerance": 0.1, "copper_tolerance": 0.1},
    "drivers": [
        {
            "name": "woofer", "what": "the woofer", "nodes": ["in", "0"],
            "re_ohm": 6.0, "re_tolerance": 0.1, "force_factor_tm": 7.0,
            "force_factor_tolerance": 0.1, "moving_mass_kg": 20e-3, "moving_mass_tolerance": 0.1,
            "stiffness_n_m": 1000.0, "stiffness_tolerance": 0.1, "friction_kg_s": 1.4,
            "friction_tolerance": 0.1, "coil_ohm_sn": 1e-13, "coil_tolerance": 0.1,
            "coil_exponent": 1.0, "coil_exponent_spread": 0.01,
        }
    ],
}  # fmt: skip


def nominal(network: Network) -> np.ndarray:
    return np.zeros((1, len(network.variables)))


@pytest.mark.parametrize(
    ("name", "tolerance"), [("two_way", 1e-9), ("three_way", 1e-9), ("hybrid", 1e-6)]
)
def test_impedance_is_what_ngspice_says_of_the_same_parts(name: str, tolerance: float) -> None:
    frequency_hz, z_ohm, units = saved_exact(name)
    for truth, unit in zip(z_ohm, units, strict=True):
        network = network_of(unit.netlist)
        found = unit.gain * impedance_ohm(network, nominal(network), frequency_hz)
        np.testing.assert_allclose(found[0], truth, rtol=tolerance)


def test_driver_at_resonance_is_a_resistor() -> None:
    network = network_of(NetlistTable.model_validate(DRIVER))
    resonance_hz = math.sqrt(1000.0 / 20e-3) / (2.0 * math.pi)
    z_ohm = impedance_ohm(network, nominal(network), np.array([resonance_hz]))
    # Re + Bl²/Rms: Small, J. Audio Eng. Soc. 20(5), 1972
    assert z_ohm[0, 0] == pytest.approx(6.0 + 7.0**2 / 1.4, rel=1e-9)


def test_panel_counts_by_the_turns_ratio_squared() -> None:
    table = netlist("hybrid")
    plain = table.model_copy(
        update={"coils": (), "capacitors": (), "resistors": (), "drivers": (), "outputs": ()}
    )
    nearly_ideal = {"primary_ohm": 1e-3, "secondary_ohm": 1e-3, "leakage_h": 1e-12}
    transformer = table.transformers[0].model_copy(update={"nodes": ("in", "0"), **nearly_ideal})
    network = network_of(plain.model_copy(update={"transformers": (transformer,)}))
    z_ohm = impedance_ohm(network, nominal(network), np.array([1000.0]))
    # 1 nF behind 1:50 is 2.5 µF: an ideal transformer's definition
    expected = 0.05 + 1e-3 + 1.0 / (2j * math.pi * 1000.0 * 2.5e-6)
    assert z_ohm[0, 0] == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("shorted_ratio", [0.0, 1e-5, 0.05])
def test_slopes_are_the_limit_of_differences(name: str, shorted_ratio: float) -> None:
    network = network_of(netlist(name), sections(name))
    at = np.random.default_rng(1).normal(0.0, 0.1, (1, len(network.variables)))
    for index, variable in enumerate(network.variables):
        if variable.mode is Mode.SHORTED:
            at[:, index] = shorted_ratio
    values = network.values(at)
    chain = network.chain(values)[0]
    slopes = impedance_slopes(network, values, HZ)[1][0].T @ chain
    level_db, over_values = level_slopes(network, values)
    levels_over = over_values[0].T @ chain
    assert level_db == pytest.approx(levels_db(network, at))
    for index in range(len(network.variables)):
        step = np.zeros_like(at)
        step[0, index] = 1e-6
        up, down = (impedance_ohm(network, at + sign * step, HZ) for sign in (1.0, -1.0))
        np.testing.assert_allclose(slopes[:, index], np.log(up / down)[0] / 2e-6, atol=1e-6)
        rise_db = levels_db(network, at + step) - levels_db(network, at - step)
        np.testing.assert_allclose(levels_over[:, index], rise_db[0] / 2e-6, atol=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_one_solution_of_impedance_and_levels_gives_what_two_give(name: str) -> None:
    network = network_of(netlist(name), sections(name))
    at = np.random.default_rng(3).normal(0.0, 0.1, (4, len(network.variables)))
    values = network.values(np.where(network.sigma > 0.0, at, 0.0))
    apart = (*impedance_slopes(network, values, HZ), *level_slopes(network, values))
    for together, alone in zip(slopes_of_all(network, values, HZ), apart, strict=True):
        np.testing.assert_allclose(together, alone, rtol=1e-12, atol=1e-12)


def test_chunks_do_not_show(monkeypatch: pytest.MonkeyPatch) -> None:
    network = network_of(netlist("two_way"))
    variables = np.random.default_rng(2).normal(0.0, 0.01, (7, len(network.variables)))
    variables *= network.sigma > 0.0
    whole = impedance_ohm(network, variables, HZ)
    monkeypatch.setattr("station.diagnosis.circuit.solver.CHUNK_POINTS", 2 * HZ.size)
    np.testing.assert_array_equal(impedance_ohm(network, variables, HZ), whole)


def test_levels_are_what_ngspice_says() -> None:
    for name in NAMES:
        base = network_of(netlist(name), sections(name))
        for unit, levels in values_of(name):
            network = network_of(unit.netlist, sections(name))
            found = levels_db(network, nominal(network)) - levels_db(base, nominal(base))
            np.testing.assert_allclose(found[0], levels, atol=2e-3)  # interpolated between points


def test_wrong_shapes_are_refused() -> None:
    network = network_of(netlist("two_way"))
    with pytest.raises(ValueError, match="need shape"):
        impedance_ohm(network, np.zeros((1, 2)), HZ)
    with pytest.raises(ValueError, match="above zero"):
        impedance_ohm(network, nominal(network), np.array([0.0]))
