"""Conditions reach the microphone through the whole chain."""

from __future__ import annotations

import threading
from collections.abc import Mapping

import numpy as np
import pytest

from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station
from station.simulation.conditions import Conditions
from tests.simulation.fakes import FakeClock
from tests.simulation.fingerprint import stimulus

STATION, _ = simulated_station()
SCALES = np.array([one.full_scale for one in STATION.inputs])[:, None]


def bench_in(
    conditions: Conditions, serial: str, faults: Mapping[str, float] | None = None
) -> SimulatedBench:
    bench = SimulatedBench(
        STATION,
        seed=7,
        faults_of={serial: faults or {}},
        paced=False,
        clock=FakeClock(),
        ambient_db_spl=0.0,
        reflections=False,
        conditions_of=lambda _: conditions,
    )
    bench.fixture.secure(serial, "any")
    return bench


def heard(bench: SimulatedBench) -> np.ndarray:
    output = stimulus(STATION.audio.output_full_scale_v)
    capture = bench.audio.play_and_record(output, on_meter=lambda _: None, stop=threading.Event())
    return np.asarray(capture.samples * SCALES)


def treble_ratio(one: np.ndarray, other: np.ndarray) -> float:
    """Return the ratio of two recordings' sound above 3 kHz."""
    treble = slice(3000 // 2, 15000 // 2)  # bins of half a second
    spectra = [np.abs(np.fft.rfft(samples[0]))[treble] for samples in (one, other)]
    return float(np.sqrt(np.sum(spectra[0] ** 2) / np.sum(spectra[1] ** 2)))


def test_sound_comes_earlier_through_warm_air() -> None:
    click = np.zeros(8192)
    click[1000] = 0.5

    def arrival_s(temperature_c: float) -> float:
        bench = bench_in(Conditions(temperature_c=temperature_c), "T2A00001")
        capture = bench.audio.play_and_record(
            click, on_meter=lambda _: None, stop=threading.Event()
        )
        return float(np.argmax(np.abs(capture.samples[0]))) / 96000.0

    # 1 m at 331.3 m/s (0 °C) and at 354.7 m/s (40 °C): 199 µs, in samples of 10.4 µs
    assert arrival_s(0.0) - arrival_s(40.0) == pytest.approx(199e-6, abs=15e-6)


def test_a_fault_of_the_station_makes_the_room_hot() -> None:
    told = bench_in(Conditions(temperature_c=35.0), "T2A00001")
    planted = bench_in(Conditions(), "T2A00001", {"station_hot_room": 35.0})
    np.testing.assert_array_equal(heard(told), heard(planted))


def test_off_its_axis_a_panel_is_weaker() -> None:
    front, aside = (
        heard(bench_in(Conditions(angle_deg=angle_deg), "F6A00001")) for angle_deg in (0.0, 60.0)
    )
    assert treble_ratio(aside, front) < 0.25  # beyond the arc's own opening
    np.testing.assert_array_equal(front[1:3], aside[1:3])  # voltage and current know no angle


def test_a_panel_tested_too_early_is_too_quiet_and_recovers_with_every_sweep() -> None:
    settled = heard(bench_in(Conditions(), "F6A00001"))
    early = bench_in(Conditions(bias_on_s=2.0), "F6A00001")
    ratios = [treble_ratio(heard(early), settled) for _ in range(3)]
    assert ratios[0] < ratios[1] < ratios[2] < 1.0
    # half a second passes with every sweep: 1 - exp(-t/τ) leaves exp(-0.5/τ) of what is missing,
    # the same share every time
    missing = 1.0 - np.array(ratios)
    assert missing[2] / missing[1] == pytest.approx(missing[1] / missing[0], abs=0.01)


def test_a_fault_of_the_station_tests_a_panel_too_early() -> None:
    told = bench_in(Conditions(bias_on_s=3.0), "F6A00001")
    planted = bench_in(Conditions(), "F6A00001", {"station_early_bias": 3.0})
    np.testing.assert_array_equal(heard(told), heard(planted))
