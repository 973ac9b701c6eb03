"""A unit is heard at every angle of the turntable, and comes back to its axis."""

from __future__ import annotations

import threading
from dataclasses import replace

import numpy as np
import pytest

from station.analysis.acoustic.directivity import listening_window_db
from station.cycle.bench.bench import Bench
from station.cycle.trials.trial import Order, order_for
from station.cycle.unit.polar import polar_response
from station.errors import FixtureError, NoSignalError, RefusedInputError
from station.judging.files.shelf import limit_shelf
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station
from station.simulation.bench.turntable import SimulatedTurning
from station.simulation.conditions import Conditions
from station.simulation.products.units import unit_truth
from tests.cycle.line import LIMITS, SteadyClock

GOOD, SEED = "F6A00041", 7


def bench_with(faults: dict[str, float] | None = None) -> tuple[Bench, SimulatedBench]:
    station, text = simulated_station()
    clock = SteadyClock()
    twin = SimulatedBench(
        station, seed=SEED, faults_of={GOOD: faults or {}}, paced=False, clock=clock,
        ambient_db_spl=20.0, reflections=False,
    )  # fmt: skip
    turntable = SimulatedTurning(twin.fixture)
    bench = Bench(station, text, twin.audio, twin.fixture, clock, True, {}, turntable=turntable)
    return bench, twin


def order() -> Order:
    return order_for(GOOD, limit_shelf(LIMITS).for_serial(GOOD))


def test_each_angle_reads_the_units_own_response_there() -> None:
    bench, _ = bench_with()
    told: list[float] = []
    polar = polar_response(
        bench, order(), (15.0, 0.0, -15.0), on_angle=told.append, stop=threading.Event()
    )
    assert told == [-15.0, 0.0, 15.0]
    inside = (polar.frequency_hz > 300.0) & (polar.frequency_hz < 10_000.0)
    for angle_deg in polar.angle_deg:
        # The unit's closed form at that angle; bands average it, which is what 0.3 dB are for.
        truth = unit_truth(GOOD, SEED, {}, Conditions(angle_deg=float(angle_deg)))
        expected_db = 20.0 * np.log10(
            np.abs(truth.response(polar.frequency_hz[inside])) * 2.83 / 20e-6
        )
        found_db = polar.at(float(angle_deg))[inside]
        assert np.median(np.abs(found_db - expected_db)) < 0.3
    assert np.isfinite(listening_window_db(polar, [-15.0, 0.0, 15.0])[inside]).all()


def test_the_unit_is_back_on_its_axis_and_free_afterwards_whatever_happens() -> None:
    bench, twin = bench_with({"station_silent_microphone": 1.0})
    with pytest.raises(NoSignalError, match="An input is dead"):
        polar_response(bench, order(), (0.0, 15.0), on_angle=lambda _: None, stop=threading.Event())
    assert twin.fixture.conditions.angle_deg == 0.0
    assert twin.fixture.unit is None


def test_an_open_lid_lets_nothing_turn() -> None:
    bench, twin = bench_with()
    twin.fixture.lid_open = True
    with pytest.raises(FixtureError, match="lid is open"):
        polar_response(bench, order(), (0.0,), on_angle=pytest.fail, stop=threading.Event())


@pytest.mark.parametrize("angles", [(), (15.0,), (0.0, 0.0), (0.0, 15.0, 15.0)])
def test_angles_without_the_axis_or_twice_are_refused(angles: tuple[float, ...]) -> None:
    bench, _ = bench_with()
    with pytest.raises(RefusedInputError, match="must be different and hold 0"):
        polar_response(bench, order(), angles, on_angle=pytest.fail, stop=threading.Event())


def test_a_station_without_a_turntable_is_told_so() -> None:
    bench, _ = bench_with()
    with pytest.raises(RefusedInputError, match="no turntable"):
        polar_response(
            replace(bench, turntable=None), order(), (0.0,),
            on_angle=pytest.fail, stop=threading.Event(),
        )  # fmt: skip
