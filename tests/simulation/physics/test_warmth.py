"""Temperature, against closed forms of what each part's coefficient does to the whole unit."""

from __future__ import annotations

import numpy as np
import pytest

from station.simulation.conditions import Conditions
from station.simulation.physics.networks import Part
from station.simulation.physics.warmth import warmth_at
from station.simulation.products import fell60, scree12, tarn2
from station.simulation.products.spread import Spread
from station.simulation.products.units import unit_truth

WARM, COLD = Conditions(temperature_c=35.0), Conditions(temperature_c=5.0)


def test_parts_at_twenty_degrees_are_exactly_the_parts() -> None:
    tarn, fell = tarn2.produced(Spread("T2A00001", 7)), fell60.produced(Spread("F6A00001", 7))
    assert tarn2.warmed(tarn, 20.0) == tarn
    assert fell60.warmed(fell, 20.0) == fell
    assert tarn2.warmed(tarn, 21.0) != tarn


def test_copper_gains_resistance_as_iec_60028_says() -> None:
    # 0.393 % per K at 20 °C: 15 K warmer is 5.895 %
    woofer = scree12.NOMINAL.woofer.driver
    warm = warmth_at(35.0).driver(woofer)
    assert warm.resistance_ohm / woofer.resistance_ohm == pytest.approx(1.05895, abs=1e-5)


def test_a_tarn_shows_its_copper_near_direct_current() -> None:
    f_hz = np.array([0.5])
    cold, warm = (abs(unit_truth("T2A00001", 7, {}, c).impedance(f_hz)[0]) for c in (COLD, WARM))
    # all resistance at 0.5 Hz is copper: (1 + 0.05895)/(1 - 0.05895) = 1.1253
    assert warm / cold == pytest.approx(1.1253, abs=0.001)


def test_warm_rubber_lowers_the_resonance_by_its_share_of_the_stiffness() -> None:
    f_hz = np.linspace(40.0, 75.0, 7001)

    def resonance_hz(conditions: Conditions) -> float:
        z = unit_truth("T2A00001", 7, {}, conditions).impedance(f_hz)
        return float(f_hz[np.abs(z).argmax()])

    driver = tarn2.produced(Spread("T2A00001", 7)).woofer.driver
    rubber, air = driver.stiffness_n_m, driver.box_stiffness_n_m
    # f² goes with stiffness; 0.8 % per K of the suspension, none of the air; ±15 K
    expected = np.sqrt((0.88 * rubber + air) / (1.12 * rubber + air))
    # coil and crossover shift the peak of |Z| by up to a tenth of that
    assert resonance_hz(WARM) / resonance_hz(COLD) == pytest.approx(expected, abs=0.005)


def test_a_warm_panel_is_quieter_by_bias_and_air() -> None:
    f_hz = np.array([1000.0])
    usual, warm = (
        abs(unit_truth("F6A00001", 7, {}, c).response(f_hz)[0]) for c in (Conditions(), WARM)
    )
    # bias 0.15 % per K; density of air 293.15/308.15; the rest moves elsewhere
    expected = (1 - 0.0015 * 15) * 293.15 / 308.15
    assert warm / usual == pytest.approx(expected, rel=0.015)


def test_film_tension_moves_the_panels_modes_by_its_root() -> None:
    panel = fell60.NOMINAL.panel
    warm = warmth_at(40.0).panel(panel)
    # 0.3 % of tension per K, 20 K: sqrt(0.94) = 0.96954
    ratio = warm.modes[0].frequency_hz / panel.modes[0].frequency_hz
    assert ratio == pytest.approx(0.96954, abs=1e-5)


def test_a_film_capacitor_loses_two_hundred_millionths_per_kelvin() -> None:
    warm = warmth_at(30.0).capacitor(Part("series", capacitance_f=10e-6))
    assert warm.capacitance_f == pytest.approx(9.98e-6, rel=1e-9)


def test_a_warm_afternoon_costs_less_than_half_a_decibel() -> None:
    f_hz = np.geomspace(100.0, 10e3, 100)
    for serial in ("T2A00001", "F6A00001"):
        usual = unit_truth(serial, 7, {}).response(f_hz)
        warmer = unit_truth(serial, 7, {}, Conditions(temperature_c=24.0)).response(f_hz)
        change_db = np.abs(20 * np.log10(np.abs(warmer / usual)))
        assert 0.02 < np.max(change_db) < 0.5
