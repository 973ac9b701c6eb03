from __future__ import annotations

import numpy as np
import pytest

from station.simulation.products.spread import Spread
from station.simulation.products.tarn2 import NOMINAL, produced

SERIALS = [f"T2A{number:05d}" for number in range(400)]


def test_a_serial_number_is_for_ever_the_same_unit() -> None:
    assert produced(Spread("T2A00012", 5)) == produced(Spread("T2A00012", 5))


def test_another_serial_or_seed_is_another_unit() -> None:
    first = produced(Spread("T2A00012", 5))
    assert first != produced(Spread("T2A00013", 5))
    assert first != produced(Spread("T2A00012", 6))


def test_draws_have_a_third_of_the_tolerance_as_standard_deviation() -> None:
    factors = np.array([Spread(serial, 1).factor("capacitor", 0.05) for serial in SERIALS])
    # standard error of a deviation from 400 draws is 3.5 %; cutting at 3 sigma takes 1 % off
    assert np.std(np.log(factors)) == pytest.approx(0.05 / 3.0, rel=0.12)
    assert abs(np.mean(np.log(factors))) < 4 * 0.05 / 3.0 / 20.0
    assert np.max(np.abs(np.log(factors))) <= 0.05 + 1e-12


def test_draws_of_different_names_are_independent() -> None:
    pairs = np.array([[Spread(s, 1).sigmas("one"), Spread(s, 1).sigmas("two")] for s in SERIALS])
    assert abs(np.corrcoef(pairs.T)[0, 1]) < 0.2  # 4 standard errors


def test_longer_wire_raises_resistance_force_factor_and_coil_together() -> None:
    drivers = [produced(Spread(serial, 1)).woofer.driver for serial in SERIALS]
    table = np.array(
        [(d.resistance_ohm, d.force_factor_tm, d.coil_ohm_sn, d.moving_mass_kg) for d in drivers]
    )
    correlation = np.corrcoef(np.log(table).T)
    assert correlation[0, 2] > 0.6
    assert 0.3 < correlation[0, 1] < 0.9
    assert abs(correlation[0, 3]) < 0.2


def test_the_middle_of_production_is_the_nominal_unit() -> None:
    masses = [produced(Spread(serial, 1)).woofer.driver.moving_mass_kg for serial in SERIALS]
    assert np.median(masses) == pytest.approx(NOMINAL.woofer.driver.moving_mass_kg, rel=0.003)


def capacitors(batch_ratio: float) -> np.ndarray:
    """Return one capacitor of 40 batches of 100 units each, in sigmas."""
    return np.array(
        [
            [
                Spread(f"T2A{100 * batch + unit:05d}", 1, batch_ratio).sigmas("capacitor")
                for unit in range(100)
            ]
            for batch in range(40)
        ]
    )


def test_a_batch_of_capacitors_is_off_together() -> None:
    drawn = capacitors(0.5)
    # half of the variance lies between batches; 40 batches tell it to 25 % (2 sigma)
    assert np.var(drawn.mean(axis=1)) == pytest.approx(0.5, abs=0.25)
    assert np.mean(np.var(drawn, axis=1)) == pytest.approx(0.5, abs=0.05)
    assert np.var(drawn) == pytest.approx(1.0, abs=0.25)  # and the whole spreads as before


def test_without_batches_every_unit_is_drawn_by_itself() -> None:
    drawn = capacitors(0.0)
    assert np.var(drawn.mean(axis=1)) < 0.03  # 1/100, three standard errors


def test_parts_of_different_names_have_batches_of_their_own() -> None:
    pairs = np.array(
        [
            [Spread(f"T2A{100 * batch:05d}", 1, 1.0).sigmas(name) for name in ("one", "two")]
            for batch in range(200)
        ]
    )
    assert abs(np.corrcoef(pairs.T)[0, 1]) < 0.25


def test_models_do_not_share_their_batches() -> None:
    tarn, fell = Spread("T2A00001", 1, 1.0), Spread("F6A00001", 1, 1.0)
    assert tarn.sigmas("capacitor") != fell.sigmas("capacitor")
    assert tarn.sigmas("capacitor") == Spread("T2A00099", 1, 1.0).sigmas("capacitor")
