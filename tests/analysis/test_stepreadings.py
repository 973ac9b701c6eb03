"""Sweeps at rising levels: a hard limiter whose fundamental gain is known in closed form."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import scipy.optimize

from station.analysis.measure import measure
from station.analysis.plan import CompressionPlan, IntegrityPlan, Plan, ResponsePlan
from station.analysis.recording import Channel, Recording
from station.analysis.signals.sweep import Sweep, stimulus_voltage, sweep_voltage

MAIN = Sweep(60.0, 75.0, 7000.0, 0.5, 0.5, 0.1, 0.2, 48e3)
LEVELS_V = (0.5, 0.8, 1.25, 2.0)
STEPS = tuple(Sweep(120.0, 150.0, 2000.0, 0.3, level_v, 0.05, 0.05, 48e3) for level_v in LEVELS_V)
CLIP_V = 1.0  # peak
PLAN = Plan(
    IntegrityPlan(1.0, -100.0, -60.0, 60.0),
    ResponsePlan(100.0, 6000.0, 3, 0.05, 1.0),
    compression=CompressionPlan(200.0, 1500.0, 3, 0.02, 1.0),
)
CHANNELS = (Channel("microphone", 5.0), Channel("voltage", 5.0))


def describing_gain(amplitude_v: float) -> float:
    """Return the fundamental's gain through a clipper.

    Gelb, Vander Velde, Multiple-Input Describing Functions, 1968, saturation (from memory):
    N = 2/pi (asin r + r sqrt(1 - r^2)), r = clip / amplitude.
    """
    ratio = min(1.0, CLIP_V / amplitude_v)
    return 2.0 / math.pi * (math.asin(ratio) + ratio * math.sqrt(1.0 - ratio**2))


def compression_db(level_v: float) -> float:
    return -20.0 * math.log10(describing_gain(math.sqrt(2.0) * level_v))


def recorded(*, limited: bool, steps: tuple[Sweep, ...] = STEPS) -> Recording:
    voltage_v = stimulus_voltage((MAIN, *steps))
    heard_pa = np.clip(voltage_v, -CLIP_V, CLIP_V) if limited else voltage_v
    noise = 1e-6 * np.random.default_rng(3).standard_normal((2, voltage_v.size))
    samples = np.stack([heard_pa, voltage_v]) / 5.0 + noise
    return Recording(samples, CHANNELS, MAIN, 1.0).cut_into(steps)


def test_a_limiter_is_found_where_its_describing_function_says() -> None:
    numbers = measure(recorded(limited=True), PLAN).readings.numbers
    assert numbers["compression"].value == pytest.approx(compression_db(2.0), abs=0.01)
    onset_v = scipy.optimize.brentq(lambda level_v: compression_db(level_v) - 1.0, 0.8, 2.0)
    # Interpolated between levels that are 4 dB apart: 0.4 dB of drive.
    assert 20.0 * math.log10(numbers["compression_onset"].value / onset_v) == pytest.approx(
        0.0, abs=0.4
    )


def test_a_unit_without_a_limiter_shows_none_and_has_no_onset() -> None:
    readings = measure(recorded(limited=False), PLAN).readings
    assert readings.numbers["compression"].value == pytest.approx(0.0, abs=1e-3)
    assert "2.00 V" in readings.missing["compression_onset"][0]


def test_the_main_sweep_reads_the_same_with_and_without_steps() -> None:
    whole = recorded(limited=False)
    assert whole.n_samples == MAIN.n_samples
    alone = replace(whole, steps=())
    plan = replace(PLAN, compression=None)
    with_steps, without = measure(whole, plan).readings, measure(alone, plan).readings
    np.testing.assert_array_equal(
        with_steps.curves["response"].values, without.curves["response"].values
    )


def test_a_recording_without_steps_leaves_the_readings_missing() -> None:
    readings = measure(replace(recorded(limited=True), steps=()), PLAN).readings
    assert set(readings.missing) == {"compression", "compression_onset"}


def test_an_input_that_clips_in_a_louder_sweep_is_told() -> None:
    good = recorded(limited=True)
    loud = STEPS[-1]
    clipped = np.stack([np.sign(sweep_voltage(loud)), good.steps[-1].samples[1]])
    steps = (*good.steps[:-1], replace(good.steps[-1], samples=clipped))
    readings = measure(replace(good, steps=steps), PLAN).readings
    assert readings.missing["compression"][0] == (
        "The microphone input clipped in the sweep at 2 V."
    )


def test_all_samples_are_what_was_cut() -> None:
    cut = recorded(limited=True)
    assert cut.all_samples.shape[1] == MAIN.n_samples + sum(step.n_samples for step in STEPS)
    again = replace(cut, samples=cut.all_samples, steps=()).cut_into(STEPS)
    for one, other in zip((cut, *cut.steps), (again, *again.steps), strict=True):
        np.testing.assert_array_equal(one.samples, other.samples)
        assert one.sweep == other.sweep


def test_a_drive_that_does_not_rise_is_the_station_s_fault() -> None:
    good = recorded(limited=False)
    steps = (good.steps[0], replace(good.steps[1], samples=0.5 * good.steps[1].samples))
    readings = measure(replace(good, steps=steps), PLAN).readings
    assert "does not rise" in readings.missing["compression"][0]
