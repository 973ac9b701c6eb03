"""What must not change when a whole channel is scaled, delayed or reversed, and what must."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.arrays import FloatArray
from station.analysis.measure import Measured, measure
from station.analysis.recording import Role
from tests.analysis.closedforms import SWEEP
from tests.analysis.goodunit import PLAN, good_recording, good_signals

# A level of sound pressure: scaled with the microphone. All others are ratios or electrical.
MICROPHONE_LEVELS = {"sensitivity", "response", "rub", "level.woofer", "level.tweeter"}
MICROPHONE_LEVELS |= {"noise.rub", "noise.response"}
NOISY_DB = 0.05  # a delay moves other samples of the noise into the windows
NOISE_ITSELF_DB = 1.0  # of readings that are nothing but noise


@lru_cache(maxsize=1)
def good() -> Measured:
    return measure(good_recording(), PLAN)


def values_of(measured: Measured) -> dict[str, FloatArray]:
    assert measured.integrity == ()
    assert dict(measured.readings.missing) == {}
    numbers = {name: np.array([n.value]) for name, n in measured.readings.numbers.items()}
    return numbers | {name: curve.values for name, curve in measured.readings.curves.items()}


def changed(role: Role, signal: FloatArray) -> dict[str, FloatArray]:
    return values_of(measure(good_recording(**{role: signal}), PLAN))


@settings(max_examples=20, deadline=None, derandomize=True)
@given(gain_db=st.floats(-12.0, 3.0))
def test_a_louder_microphone_raises_levels_and_no_ratio(gain_db: float) -> None:
    gain = 10.0 ** (gain_db / 20.0)
    louder = changed("microphone", gain * good_signals()["microphone"])
    for name, before in values_of(good()).items():
        if name.startswith(("noise.thd", "noise.h")):
            continue  # referred to the reference unit's sound where the unit's own is weaker
        step_db = gain_db if name in MICROPHONE_LEVELS else 0.0
        assert louder[name] == pytest.approx(before + step_db, rel=1e-6, abs=1e-5), name


@settings(max_examples=10, deadline=None, derandomize=True)
@given(gain=st.floats(0.5, 1.0))
def test_a_whole_recording_scaled_changes_only_levels_that_are_not_per_volt(gain: float) -> None:
    signals = good_signals()
    scaled = {role: gain * signals[role] for role in signals if role != "ambient"}
    plan_v = 20.0 * math.log10(gain)
    after = values_of_any(measure(good_recording(**scaled), PLAN))
    before = values_of(good())
    for name in ("response", "sensitivity", "thd", "h2", "impedance", "impedance_phase", "fs",
                 "polarity.woofer", "polarity.tweeter", "rub_crest"):  # fmt: skip
        assert after[name] == pytest.approx(before[name], rel=1e-6, abs=1e-5), name
    assert after["voltage"] == pytest.approx(gain * before["voltage"], rel=1e-6)
    assert after["rub"] == pytest.approx(before["rub"] + plan_v, abs=1e-5)


def values_of_any(measured: Measured) -> dict[str, FloatArray]:
    """Return values also where the drive is too low for the limit on the voltage."""
    numbers = {name: np.array([n.value]) for name, n in measured.readings.numbers.items()}
    return numbers | {name: curve.values for name, curve in measured.readings.curves.items()}


@settings(max_examples=10, deadline=None, derandomize=True)
@given(later=st.integers(1, 47))  # half a millisecond, which polarity allows for
def test_a_microphone_further_away_changes_the_delay_alone(later: int) -> None:
    moved = changed("microphone", np.roll(good_signals()["microphone"], later))
    for name, before in values_of(good()).items():
        if name == "delay":
            assert moved[name] == pytest.approx(before + later / SWEEP.rate_hz, abs=2e-7)
        else:
            assert moved[name] == pytest.approx(before, rel=1e-3, abs=tolerance_db(name)), name


@pytest.mark.parametrize("later", [-200, -60, 50, 60, 90, 200, 280])  # 18 cm to 1 m
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_microphone_elsewhere_leaves_polarity_missing_instead_of_wrong(
    later: int, sign: float
) -> None:
    moved = sign * np.roll(good_signals()["microphone"], later)
    measured = measure(good_recording(microphone=moved), PLAN)
    sections = {
        f"{what}.{name}" for what in ("polarity", "level") for name in ("woofer", "tweeter")
    }
    assert set(measured.readings.missing) == sections
    assert "microphone's place" in measured.readings.missing["polarity.tweeter"][1]


@settings(max_examples=10, deadline=None, derandomize=True)
@given(later=st.integers(-400, 400))
def test_a_later_start_changes_nothing(later: int) -> None:
    late = {role: np.roll(signal, later) for role, signal in good_signals().items()}
    after = values_of(measure(good_recording(**late), PLAN))
    for name, before in values_of(good()).items():
        assert after[name] == pytest.approx(before, rel=1e-3, abs=tolerance_db(name)), name


def tolerance_db(name: str) -> float:
    """Return how far a reading may move with the noise alone; distortion is noise here."""
    noise = ("thd", "h2", "h3", "h4", "h5", "rub", "noise")
    return NOISE_ITSELF_DB if name.startswith(noise) else NOISY_DB


def test_a_reversed_microphone_flips_polarity_alone() -> None:
    flipped = changed("microphone", -good_signals()["microphone"])
    for name, before in values_of(good()).items():
        sign = -1.0 if name.startswith("polarity.") else 1.0
        assert flipped[name] == pytest.approx(sign * before, rel=1e-9, abs=1e-9), name


def test_a_reversed_ambient_microphone_changes_nothing() -> None:
    flipped = changed("ambient", -good_signals()["ambient"])
    for name, before in values_of(good()).items():
        assert flipped[name] == pytest.approx(before, rel=1e-12), name


def test_a_reversed_current_voids_and_moves_no_sound() -> None:
    measured = measure(good_recording(current=-good_signals()["current"]), PLAN)
    after = values_of_any(measured)
    before = values_of(good())
    assert [fault.kind for fault in measured.integrity] == ["current_reversed"]
    for name in ("response", "thd", "rub", "polarity.woofer", "polarity.tweeter"):
        assert after[name] == pytest.approx(before[name], rel=1e-12), name
