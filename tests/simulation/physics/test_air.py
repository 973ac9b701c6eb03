from __future__ import annotations

import pytest

from station.simulation.physics.air import AIR_20C, air_at


def test_at_twenty_degrees_nothing_changes() -> None:
    assert air_at(20.0) == AIR_20C


@pytest.mark.parametrize(
    ("temperature_c", "sound_m_s", "kg_m3"),
    # published tables of dry air at 101.325 kPa
    [(0.0, 331.3, 1.293), (30.0, 349.0, 1.164), (40.0, 354.7, 1.127)],
)
def test_sound_is_as_fast_and_air_as_dense_as_tables_say(
    temperature_c: float, sound_m_s: float, kg_m3: float
) -> None:
    air = air_at(temperature_c)
    assert air.sound_m_s == pytest.approx(sound_m_s, abs=0.15)
    assert air.kg_m3 == pytest.approx(kg_m3, abs=0.002)


def test_the_springiness_of_air_knows_no_temperature() -> None:
    # an ideal gas: 1.4 times the pressure of 101.325 kPa, 141.86 kPa
    for temperature_c in (-10.0, 20.0, 45.0):
        assert air_at(temperature_c).stiffness_pa == pytest.approx(141.86e3, rel=1e-3)
