from __future__ import annotations

import numpy as np
import pytest

from station.simulation.physics.networks import (
    CrossedLeads,
    Part,
    Transformer,
    chain_at,
    opened,
    scaled,
)
from tests.simulation.nodal import Nodal

S = 2j * np.pi * np.geomspace(10.0, 40e3, 60)


def test_ladder_agrees_with_nodal_analysis() -> None:
    coil = Part("series", resistance_ohm=0.3, inductance_h=1e-3)
    capacitor = Part("shunt", resistance_ohm=0.1, capacitance_f=12e-6)
    load_ohm = 8.0
    chain = chain_at((coil, capacitor, Transformer(3.0)), S)
    nodal = Nodal(S)
    nodal.add(1, 2, 0.3 + S * 1e-3)
    nodal.add(2, 0, 0.1 + 1 / (S * 12e-6))
    nodal.transformers.append((2, 3, 3.0))
    nodal.add(3, 0, load_ohm)
    voltages, current = nodal.solved()
    transfer = 1.0 / (chain.a + chain.b / load_ohm)
    np.testing.assert_allclose(transfer, voltages[3], rtol=1e-9)
    seen = (chain.c * load_ohm + chain.d) / (chain.a * load_ohm + chain.b)
    np.testing.assert_allclose(seen, current, rtol=1e-9)


def test_every_chain_is_reciprocal() -> None:
    parts = (
        Part("series", 1.0, 2e-3, 3e-6),
        Part("shunt", 4.0, 5e-3),
        CrossedLeads(),
        Transformer(75.0),
        Part("shunt", capacitance_f=1e-9),
    )
    chain = chain_at(parts, S)
    # a·d - b·c = 1 for any network of passive reciprocal parts
    np.testing.assert_allclose(chain.a * chain.d - chain.b * chain.c, 1.0, atol=1e-6)


def test_crossed_leads_turn_the_sign_and_leave_the_impedance() -> None:
    part = Part("series", 5.0)
    straight, crossed = chain_at((part,), S), chain_at((part, CrossedLeads()), S)
    load_ohm = 3.0
    assert np.allclose(crossed.a * load_ohm + crossed.b, -(straight.a * load_ohm + straight.b))
    np.testing.assert_allclose(
        (crossed.c * load_ohm + crossed.d) / (crossed.a * load_ohm + crossed.b),
        np.full(S.shape, 1.0 / 8.0),
    )


@pytest.mark.parametrize(
    ("part", "expected"),
    [
        (Part("series", 2.0), Part("series", 3.0)),
        (Part("shunt", 0.2, 2e-3), Part("shunt", 0.2, 3e-3)),
        (Part("series", 0.1, 0.0, 4e-6), Part("series", 0.1, 0.0, 6e-6)),
    ],
)
def test_scaling_changes_the_value_that_names_the_part(part: Part, expected: Part) -> None:
    changed = scaled(part, 1.5)
    assert changed.resistance_ohm == pytest.approx(expected.resistance_ohm)
    assert changed.inductance_h == pytest.approx(expected.inductance_h)
    assert changed.capacitance_f == pytest.approx(expected.capacitance_f)


def test_an_open_part_lets_next_to_nothing_through() -> None:
    through = opened(Part("series", 0.3, 1e-3)).impedance_ohm(S)
    assert np.min(np.abs(through)) > 1e8
