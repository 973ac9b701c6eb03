"""Faults of the simulated station that are about wiring, the fixture and what stands in it."""

from __future__ import annotations

import threading
from collections.abc import Mapping

import numpy as np
import pytest

from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.looseness import looseness_of
from station.simulation.bench.stationfile import simulated_station
from station.simulation.products.units import MODELS, serial_of_another_model
from tests.simulation.fakes import FakeClock
from tests.simulation.fingerprint import stimulus

STATION, _ = simulated_station()
SCALES = np.array([one.full_scale for one in STATION.inputs])[:, None]
MICROPHONE, VOLTAGE, CURRENT, AMBIENT = range(4)


def bench_with(
    faults: Mapping[str, float], serial: str = "T2A00001", ambient_db_spl: float = 0.0
) -> SimulatedBench:
    bench = SimulatedBench(
        STATION,
        seed=7,
        faults_of={serial: faults},
        paced=False,
        clock=FakeClock(),
        ambient_db_spl=ambient_db_spl,
        reflections=False,
    )
    bench.fixture.secure(serial, "any")
    return bench


def recorded(bench: SimulatedBench, output: np.ndarray | None = None) -> np.ndarray:
    given = stimulus(STATION.audio.output_full_scale_v) if output is None else output
    capture = bench.audio.play_and_record(given, on_meter=lambda _: None, stop=threading.Event())
    return np.asarray(capture.samples * SCALES)


def test_swapped_voltage_and_current_exchange_their_signals() -> None:
    good, bad = (
        recorded(bench_with(faults)) for faults in ({}, {"station_swapped_voltage_current": 1.0})
    )
    # each keeps its size in V or A; the inputs' own noises stay where they are
    np.testing.assert_allclose(bad[VOLTAGE], good[CURRENT], atol=5e-4)
    np.testing.assert_allclose(bad[CURRENT], good[VOLTAGE], atol=5e-4)
    np.testing.assert_array_equal(bad[MICROPHONE], good[MICROPHONE])


@pytest.mark.parametrize("serial", ["T2A00007", "F6A00007", "S12A00007"])
@pytest.mark.parametrize("number", [1, 2])
def test_a_unit_of_another_model_stands_on_the_bench(serial: str, number: int) -> None:
    wrong = bench_with({"station_wrong_model": number}, serial)
    other = serial_of_another_model(serial, number)
    assert wrong.fixture.serial == serial  # what was scanned
    assert wrong.fixture.unit is not None
    (model,) = (one.name for one in MODELS if other.startswith(one.prefix))
    assert wrong.fixture.unit.model == model
    same = bench_with({}, other).fixture.unit
    assert same is not None
    f_hz = np.geomspace(20.0, 20e3, 30)
    np.testing.assert_array_equal(wrong.fixture.unit.response(f_hz), same.response(f_hz))
    assert np.isfinite(recorded(wrong)).all()


def test_faults_of_a_unit_that_is_not_there_do_nothing() -> None:
    wrong = bench_with({"station_wrong_model": 1.0, "dead_woofer": 1.0})
    good = bench_with({"station_wrong_model": 1.0})
    np.testing.assert_array_equal(recorded(wrong), recorded(good))


def test_the_other_models_are_two_and_not_its_own() -> None:
    for model in MODELS:
        others = {serial_of_another_model(f"{model.prefix}00042", number) for number in (1, 2)}
        assert len(others) == 2
        assert all(other.endswith("00042") for other in others)
        assert not any(other.startswith(model.prefix) for other in others)


def test_a_loose_seal_reflects_at_its_level_and_elsewhere_in_every_run() -> None:
    bench = bench_with({"station_loose_fixture": -10.0}, ambient_db_spl=-40.0)
    good = np.fft.rfft(recorded(bench_with({}, ambient_db_spl=-40.0))[MICROPHONE])
    ratios = [np.fft.rfft(recorded(bench)[MICROPHONE]) / good for _ in range(3)]
    f_hz = np.fft.rfftfreq(48000, 1 / 96000.0)
    band = (f_hz > 500.0) & (f_hz < 2500.0)
    for ratio in ratios:
        # direct sound and an echo of 0.316 interfere between 1.316 and 0.684: 5.68 dB from crest to
        # trough, wherever the microphone hangs; the seal is a little duller than a wall
        swing_db = np.ptp(20 * np.log10(np.abs(ratio[band])))
        assert swing_db == pytest.approx(5.68, abs=0.4)
    assert np.max(np.abs(ratios[0] - ratios[1])[band]) > 0.1


def test_a_loose_fixture_delays_at_random_by_no_more_than_its_slack() -> None:
    offs_m = [
        looseness_of(-14.0, np.random.default_rng(seed)).microphone_off_m for seed in range(200)
    ]
    assert max(map(abs, offs_m)) <= 0.03
    assert np.std(offs_m) == pytest.approx(0.03 / np.sqrt(3), rel=0.15)  # uniform


def test_a_leaky_seal_lets_noise_in() -> None:
    silence = np.zeros(48000)
    good, bad = (
        recorded(bench_with(faults, ambient_db_spl=60.0), silence)
        for faults in ({}, {"station_loose_fixture": -14.0})
    )
    louder_db = 20 * np.log10(np.std(bad[MICROPHONE]) / np.std(good[MICROPHONE]))
    assert louder_db == pytest.approx(6.0, abs=0.1)


def test_a_tight_fixture_is_the_same_in_every_run() -> None:
    bench = bench_with({}, ambient_db_spl=-40.0)
    first, second = recorded(bench), recorded(bench)
    np.testing.assert_allclose(first[MICROPHONE], second[MICROPHONE], atol=5e-3)
