from __future__ import annotations

import math
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from station.analysis.arrays import FloatArray
from station.analysis.measure import measure
from station.analysis.plan import Plan
from station.analysis.recording import Recording
from station.analysis.signals.sweep import Sweep, sweep_voltage
from station.analysis.trust.integrity import WORDS, FaultKind, IntegrityFault
from tests.analysis.closedforms import SWEEP, recording_of
from tests.analysis.goodunit import PLAN, good_recording, good_signals, without_samples

NOISE = np.random.default_rng(8).standard_normal(SWEEP.n_samples)


def faults_of(recording: Recording, plan: Plan = PLAN) -> list[IntegrityFault]:
    return list(measure(recording, plan).integrity)


def kinds_of(recording: Recording, plan: Plan = PLAN) -> list[tuple[str, str | None]]:
    return [(fault.kind, fault.role) for fault in faults_of(recording, plan)]


def signal(role: str) -> FloatArray:
    return good_signals()[role].copy()


def test_good_recording_has_no_fault() -> None:
    assert kinds_of(good_recording()) == []


def test_samples_that_are_no_numbers_are_counted() -> None:
    good = good_recording()
    samples = good.samples.copy()
    samples[0, [5, 70_000, 70_001]] = [np.nan, np.inf, -np.inf]
    raw = Recording.from_raw(samples, good.channels, SWEEP, 1.0)
    (fault,) = faults_of(raw)
    assert (fault.kind, fault.role) == ("invalid_samples", "microphone")
    assert fault.detail["found"].value == 3.0


def test_what_the_device_reports_is_a_fault() -> None:
    flagged = replace(good_recording(), device_flags=("input overflow",))
    assert kinds_of(flagged) == [("device", None)]


def test_recording_shorter_than_the_sweep_is_a_fault() -> None:
    good = good_recording()
    short = replace(good, samples=good.samples[:, :-1])
    assert kinds_of(short) == [("incomplete", None)]


def test_three_samples_at_full_scale_are_clipped_and_two_are_not() -> None:
    peak = signal("microphone")
    peak[90_000:90_002] = 20.0
    assert kinds_of(good_recording(microphone=peak)) == []
    peak[90_002] = 20.0
    (fault,) = faults_of(good_recording(microphone=peak))
    assert (fault.kind, fault.role) == ("clipped", "microphone")
    assert fault.detail["found"].value == 3.0


@pytest.mark.parametrize("rail", [20.0, -20.0])
def test_clipping_at_either_end_of_the_scale_is_found(rail: float) -> None:
    flat = signal("ambient")
    flat[100_000:100_005] = rail
    assert kinds_of(good_recording(ambient=flat)) == [("clipped", "ambient")]


def test_more_than_full_scale_is_refused() -> None:
    beyond = signal("microphone")
    beyond[7] = 21.0
    (fault,) = faults_of(good_recording(microphone=beyond))
    assert fault.kind == "beyond_full_scale"
    assert fault.detail["found"].value == pytest.approx(1.05)


@pytest.mark.parametrize("role", ["microphone", "ambient"])
@pytest.mark.parametrize("rest", [0.0, 3.0, 1e-9])
def test_dead_microphone_is_silent_even_with_an_offset(role: str, rest: float) -> None:
    dead = np.full(SWEEP.n_samples, rest)
    assert ("silent", role) in kinds_of(good_recording(**{role: dead}))


def test_microphone_that_hears_only_the_room_is_alive() -> None:
    # 45 dB SPL: a dead unit, which must be judged, not a dead microphone.
    room = 20e-6 * 10.0 ** (45.0 / 20.0) * NOISE
    measured = measure(good_recording(microphone=room), PLAN)
    assert measured.integrity == ()
    assert measured.readings.numbers["sensitivity"].value < 50.0


def test_swapped_voltage_and_microphone_are_told() -> None:
    swapped = good_recording(microphone=signal("voltage"), voltage=signal("microphone"))
    assert kinds_of(swapped) == [("swapped", "microphone")]


def test_swapped_voltage_and_current_are_told() -> None:
    swapped = good_recording(current=signal("voltage"), voltage=signal("current"))
    assert kinds_of(swapped) == [("swapped", "current")]


def test_swapped_voltage_and_ambient_are_told() -> None:
    swapped = good_recording(ambient=signal("voltage"), voltage=signal("ambient"))
    assert ("swapped", "ambient") in kinds_of(swapped)


@pytest.mark.parametrize("residue_v", [0.0, 1e-5, 1e-3])
def test_dead_amplifier_is_told(residue_v: float) -> None:
    room, quiet = 1e-3 * NOISE, 1e-6 * NOISE
    found = kinds_of(good_recording(voltage=residue_v * NOISE, microphone=room, current=quiet))
    assert found == [("voltage_absent", "voltage")]


@pytest.mark.parametrize("gain_db", [-6.0, -1.2, 1.2])
def test_wrong_level_is_told_with_the_voltage_that_was_found(gain_db: float) -> None:
    gain = 10.0 ** (gain_db / 20.0)
    channels = {role: gain * signal(role) for role in ("microphone", "voltage", "current")}
    (fault,) = faults_of(good_recording(**channels))
    assert fault.kind == "voltage_level"
    # The amplifier's 0.1 ohm takes up to 0.15 dB.
    assert fault.detail["found"].value == pytest.approx(gain * 2.83, rel=0.02)


def test_level_within_the_tolerance_is_none() -> None:
    gain = 10.0 ** (0.8 / 20.0)
    channels = {role: gain * signal(role) for role in ("microphone", "voltage", "current")}
    assert kinds_of(good_recording(**channels)) == []


@pytest.mark.parametrize("at_hz", [200.0, 1000.0, 12e3, 30e3])
@pytest.mark.parametrize("count", [8, 100])
def test_lost_samples_are_told(at_hz: float, count: int) -> None:
    found = kinds_of(without_samples(good_recording(), at_hz, count))
    assert found == [("samples_lost", "voltage")]


def test_repeated_samples_are_told() -> None:
    good = good_recording()
    twice = np.concatenate([good.samples[:, :80_000], good.samples[:, 79_488:-512]], axis=1)
    assert kinds_of(replace(good, samples=twice)) == [("samples_lost", "voltage")]


@pytest.mark.parametrize("headroom_db", [-0.3, -1.0, -3.0])
def test_clipping_amplifier_is_told_from_lost_samples(headroom_db: float) -> None:
    rail_v = math.sqrt(2.0) * 2.83 * 10.0 ** (headroom_db / 20.0)
    clipped = np.clip(signal("voltage"), -rail_v, rail_v)
    found = kinds_of(good_recording(voltage=clipped))
    assert ("amplifier_clipping", "voltage") in found
    assert ("samples_lost", "voltage") not in found


def test_noisy_voltage_is_told_from_both() -> None:
    assert kinds_of(good_recording(voltage=signal("voltage") + 0.01 * NOISE)) == [
        ("voltage_noisy", "voltage")
    ]


def test_loud_room_is_told_with_its_level() -> None:
    # 75 dB SPL is 20e-6 * 10^(75/20) = 0.1125 Pa.
    (fault,) = faults_of(good_recording(ambient=signal("ambient") + 0.1125 * NOISE))
    assert (fault.kind, fault.role) == ("ambient", "ambient")
    assert fault.detail["found"].value == pytest.approx(75.0, abs=0.2)


def test_missing_current_with_sound_is_the_sense_wire() -> None:
    found = kinds_of(good_recording(current=1e-6 * NOISE))
    assert found == [("current_sense", "current")]
    assert kinds_of(good_recording(current=0.0 * NOISE)) == [("current_sense", "current")]


def test_missing_current_without_sound_is_an_open_connection() -> None:
    found = kinds_of(good_recording(current=1e-6 * NOISE, microphone=3e-3 * NOISE))
    assert found == [("not_connected", "current")]


def test_current_is_not_missed_where_no_reading_needs_it() -> None:
    plan = replace(PLAN, impedance=None, resonance=None)
    assert kinds_of(good_recording(current=0.0 * NOISE), plan) == []


def test_missing_channel_is_told() -> None:
    recording = recording_of(SWEEP, {"voltage": signal("voltage")})
    assert kinds_of(recording) == [
        ("missing_channel", "microphone"),
        ("missing_channel", "current"),
    ]


def test_rate_too_low_names_the_reading() -> None:
    slow = Sweep(15.0, 19.0, 20e3, 1.0, 2.83, 0.1, 0.4, 44.1e3)
    drive_v = sweep_voltage(slow)
    recording = recording_of(slow, dict.fromkeys(("microphone", "voltage", "current"), drive_v))
    plan = replace(PLAN, response=replace(PLAN.response, to_hz=40e3))
    found = [(fault.kind, fault.reading) for fault in faults_of(recording, plan)]
    assert ("rate", "response") in found
    assert ("band", "impedance") in found  # 20 kHz lies in this sweep's fade-out


def test_sweep_that_starts_too_high_names_the_reading() -> None:
    plan = replace(PLAN, response=replace(PLAN.response, from_hz=16.0))
    (fault,) = faults_of(good_recording(), plan)
    assert (fault.kind, fault.reading) == ("band", "response")
    assert fault.detail["reached"].value == 19.0


def test_every_kind_has_two_sentences() -> None:
    for kind in get_args(FaultKind):
        fault = IntegrityFault(kind)
        for sentence in (fault.happened, fault.remedy):
            assert sentence[0].isupper()
            assert sentence.endswith(".")
    assert set(WORDS) == set(get_args(FaultKind))
