from __future__ import annotations

import numpy as np
import pytest

from station.simulation.factory.shift import TROUBLES, Rates, Shift, is_reference, severity_of
from station.simulation.faults import FAULTS, checked_faults
from station.simulation.products.units import MODELS, model_of

SHIFT = Shift(seed=5, day=12)
PLACES = range(600)


def test_a_shift_can_be_played_again() -> None:
    again = Shift(seed=5, day=12)
    for place in range(0, 600, 7):
        serial = SHIFT.serial_at(place)
        assert again.serial_at(place) == serial
        assert again.faults_of(serial) == SHIFT.faults_of(serial)
        assert again.trouble_at(place) == SHIFT.trouble_at(place)


def test_another_day_or_seed_brings_other_units_and_events() -> None:
    serials = {SHIFT.serial_at(place) for place in range(1, 60)}
    assert serials.isdisjoint(Shift(5, 13).serial_at(place) for place in range(1, 60))
    faulty = [
        [place for place in PLACES if shift.faults_of(shift.serial_at(place))]
        for shift in (SHIFT, Shift(6, 12))
    ]
    assert faulty[0] != faulty[1]


def test_every_unit_arrives_once_but_the_reference_units() -> None:
    serials = [SHIFT.serial_at(place) for place in PLACES]
    produced = [serial for serial in serials if not is_reference(serial)]
    assert len(set(produced)) == len(produced)
    assert {model_of(serial) for serial in produced} == set(MODELS)
    for model in MODELS:  # in the order of their numbers, without gaps
        numbers = [
            int(one.removeprefix(model.prefix)) for one in produced if model_of(one) is model
        ]
        np.testing.assert_array_equal(np.diff(numbers), 1)


def test_a_reference_unit_begins_the_shift_and_comes_round() -> None:
    places = [place for place in PLACES if is_reference(SHIFT.serial_at(place))]
    assert places == list(range(0, 600, 60))
    for place in places:  # of the model that runs at that time
        nearby = {model_of(SHIFT.serial_at(beside)) for beside in (place + 1, max(place - 1, 1))}
        assert model_of(SHIFT.serial_at(place)) in nearby
        assert SHIFT.faults_of(SHIFT.serial_at(place)) == {}


def test_the_day_after_the_last_numbers_begins_again() -> None:
    for day in (0, 196, 197, 740_000):
        for place in (1, 499):  # five digits, or it would be refused
            assert model_of(Shift(5, day).serial_at(place)) in MODELS
    assert Shift(5, 197).serial_at(1)[-5:] == Shift(5, 0).serial_at(1)[-5:] == "01000"


def test_faults_come_at_their_rate_and_only_where_they_can() -> None:
    shift = Shift(5, 12, Rates(faulty_ratio=0.25))
    drawn = [(serial, shift.faults_of(serial)) for serial in map(shift.serial_at, range(2000))]
    faulty = [(serial, faults) for serial, faults in drawn if faults]
    # binomial: 500 ± 19
    assert len(faulty) == pytest.approx(0.25 * 2000 * 59 / 60, abs=60)
    for serial, faults in faulty:
        checked_faults(model_of(serial).name, faults)  # raises if the model cannot have it
        assert not any(name.startswith("station_") for name in faults)
    names = {name for _, faults in faulty for name in faults}
    assert names == {fault.name for fault in FAULTS if not fault.name.startswith("station_")}


def test_the_usual_rates_are_those_of_a_real_line() -> None:
    serials = [SHIFT.serial_at(place) for place in range(3000)]
    share = np.mean([bool(SHIFT.faults_of(serial)) for serial in serials])
    assert 0.01 < share < 0.04
    troubled = np.mean([bool(SHIFT.trouble_at(place)) for place in range(3000)])
    assert 0.004 < troubled < 0.02


def test_troubles_and_bangs_are_possible_faults_of_the_station() -> None:
    shift = Shift(5, 12, Rates(trouble_ratio=0.5, bang_ratio=0.5))
    troubles = [shift.trouble_at(place) for place in range(400)]
    assert {name for trouble in troubles for name in trouble} == set(TROUBLES)
    bangs = [shift.bang_at(scan)["station_bang"] for scan in range(400) if shift.bang_at(scan)]
    assert len(bangs) == pytest.approx(200, abs=40)
    assert min(bangs) > 78.0
    assert max(bangs) < 95.0
    assert shift.trouble_at(0) == {}  # a shift begins in order


@pytest.mark.parametrize("chance", [0.0, 0.31, 0.5, 0.999999])
def test_every_severity_drawn_is_allowed(chance: float) -> None:
    for fault in FAULTS:
        if not fault.name.startswith("station_"):
            assert fault.allows(severity_of(fault, chance)), fault.name


def test_the_hall_warms_up_during_the_day() -> None:
    scans = np.arange(0, 411)  # eight hours
    temperature_c = np.array([SHIFT.temperature_c(int(scan)) for scan in scans])
    assert 18.5 < temperature_c.min() < 20.0
    assert 21.0 < temperature_c.max() < 23.0
    assert np.mean(temperature_c[-100:]) - np.mean(temperature_c[:20]) > 1.0
    assert np.max(np.abs(np.diff(temperature_c))) < 0.2  # slowly


def test_repairs_succeed_at_their_rate() -> None:
    mended = [SHIFT.mends(f"T2A{number:05d}", 0) for number in range(1000)]
    assert np.mean(mended) == pytest.approx(0.9, abs=0.04)  # four standard errors
