from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.arrays import FloatArray
from station.analysis.gathering import all_names, finite
from station.analysis.measure import Measured, measure
from station.analysis.plan import (
    ClosedBoxPlan,
    DistortionPlan,
    DriverPlan,
    FilterPlan,
    IdleNoisePlan,
    ImpedancePlan,
    IntegrityPlan,
    PanelPlan,
    Plan,
    ResonancePlan,
    ResponsePlan,
    RubPlan,
    SectionPlan,
    SensitivityPlan,
)
from station.analysis.readings import Curve, Number, Readings
from station.analysis.recording import Channel, Recording
from station.analysis.signals.sweep import sweep_voltage
from station.analysis.statistics.uncertainty import Estimate
from station.analysis.trust.integrity import FATAL_KINDS
from tests.analysis.closedforms import (
    FULL_SCALE,
    SWEEP,
    driver_ohm,
    true_band_power,
    two_way,
)
from tests.analysis.closedforms import SHORT_SWEEP as SHORTER_SWEEP
from tests.analysis.goodunit import PLAN, good_recording, good_signals

NAMES = {
    "voltage", "ambient", "delay", "response", "sensitivity", "thd", "h2", "h3", "h4", "h5",
    "rub", "rub_crest", "impedance", "impedance_phase", "impedance_min", "impedance_min_hz",
    "fs", "polarity.woofer", "polarity.tweeter", "level.woofer", "level.tweeter",
    "noise.response", "noise.thd", "noise.h2", "noise.h3", "noise.h4", "noise.h5", "noise.rub",
}  # fmt: skip


@pytest.fixture(scope="module")
def good() -> Measured:
    return measure(good_recording(), PLAN)


def names_in(measured: Measured) -> list[str]:
    readings = measured.readings
    return [*readings.numbers, *readings.curves, *readings.missing]


def test_every_reading_asked_for_is_there(good: Measured) -> None:
    assert good.integrity == ()
    assert dict(good.readings.missing) == {}
    assert set(names_in(good)) == NAMES == set(all_names(PLAN))
    assert len(names_in(good)) == len(NAMES)


def test_readings_are_those_of_the_unit(good: Measured) -> None:
    numbers, curves = good.readings.numbers, good.readings.curves
    response = curves["response"]
    truth_db = 10.0 * np.log10(true_band_power(two_way, response.frequency_hz, 12))
    # 93.979 dB is 1 Pa. 45 dB of noise in the room moves single bands by a few hundredths.
    expected_db = truth_db + 20.0 * math.log10(2.83) + 93.979
    assert response.values == pytest.approx(expected_db, abs=0.1)
    assert numbers["ambient"].value == pytest.approx(45.0, abs=0.2)
    # The low-pass at 30 kHz adds its group delay, 1 / (2 pi 30 kHz) = 5.3 µs, to the flight.
    assert numbers["delay"].value == pytest.approx(280.4 / 96e3 + 5.3e-6, abs=3e-6)
    assert numbers["voltage"].value == pytest.approx(2.83, rel=0.02)  # 0.1 ohm in the cable
    assert numbers["fs"].value == pytest.approx(50.0, rel=2e-3)
    ohm = np.abs(driver_ohm(curves["impedance"].frequency_hz))
    assert curves["impedance"].values == pytest.approx(ohm, rel=2e-3)
    assert np.max(curves["thd"].values) < -55.0  # linear: noise alone
    for section in ("woofer", "tweeter"):
        assert numbers[f"polarity.{section}"].value == pytest.approx(1.0, abs=0.01)
        assert numbers[f"level.{section}"].value == pytest.approx(0.0, abs=0.1)


def test_units_are_those_of_the_readings(good: Measured) -> None:
    units = {name: number.unit for name, number in good.readings.numbers.items()}
    assert units["sensitivity"] == units["ambient"] == units["level.woofer"] == "dB"
    assert units["polarity.woofer"] == "ratio"
    assert (units["impedance_min"], units["impedance_min_hz"], units["fs"]) == ("Ω", "Hz", "Hz")
    assert (units["delay"], units["voltage"]) == ("s", "V")
    curves = {name: curve.unit for name, curve in good.readings.curves.items()}
    assert (curves["impedance"], curves["impedance_phase"]) == ("Ω", "deg")
    assert {curves[name] for name in ("response", "thd", "h2", "rub", "rub_crest")} == {"dB"}


def test_same_recording_gives_the_same_bits(good: Measured) -> None:
    again = measure(good_recording(), PLAN)
    for name, curve in good.readings.curves.items():
        np.testing.assert_array_equal(curve.values, again.readings.curves[name].values)
    assert again.readings.numbers == good.readings.numbers


def test_one_missing_reading_stops_no_other() -> None:
    plan = replace(PLAN, resonance=ResonancePlan(300.0, 900.0))  # no peak there
    readings = measure(good_recording(), plan).readings
    assert set(readings.missing) == {"fs"}
    assert all(sentence.endswith(".") for sentence in readings.missing["fs"])
    assert set(readings.numbers) | set(readings.curves) == NAMES - {"fs"}


def test_dead_current_takes_only_its_own_readings() -> None:
    measured = measure(good_recording(current=np.zeros(SWEEP.n_samples)), PLAN)
    assert [fault.kind for fault in measured.integrity] == ["current_sense"]
    assert set(measured.readings.missing) == {
        "impedance", "impedance_phase", "impedance_min", "impedance_min_hz", "fs",
    }  # fmt: skip


def test_without_a_voltage_everything_is_missing_for_that_reason() -> None:
    measured = measure(good_recording(voltage=np.zeros(SWEEP.n_samples)), PLAN)
    assert set(measured.readings.missing) == NAMES
    assert not measured.readings.numbers
    assert {reason[0] for reason in measured.readings.missing.values()} == {
        measured.integrity[0].happened
    }


def test_plan_without_a_reference_reads_polarity_by_the_first_half_wave() -> None:
    signals = good_signals()
    plan = replace(PLAN, reference=None)
    numbers = measure(good_recording(), plan).readings.numbers
    assert numbers["polarity.woofer"] == numbers["polarity.tweeter"] == Number(1.0, "ratio")
    assert "level.woofer" not in numbers
    reversed_ = measure(good_recording(microphone=-signals["microphone"]), plan).readings.numbers
    assert reversed_["polarity.woofer"] == Number(-1.0, "ratio")


def test_shortest_plan_reads_the_response_alone() -> None:
    plan = Plan(PLAN.integrity, PLAN.response)
    assert set(names_in(measure(good_recording(), plan))) == {
        "response", "ambient", "delay", "voltage", "noise.response",
    }  # fmt: skip


def test_resonance_without_impedance_is_refused() -> None:
    with pytest.raises(ValueError, match="resonance"):
        measure(good_recording(), replace(PLAN, impedance=None))


def test_what_is_no_number_is_missing() -> None:
    hz = np.array([1.0, 2.0])
    readings = finite(
        Readings(
            {"a": Number(math.nan, "V"), "b": Number(math.inf, "V"), "c": Number(1.0, "V")},
            {
                "d": Curve(hz, np.array([math.nan, math.nan]), "dB"),
                "e": Curve(hz, np.array([-math.inf, 1.0]), "dB"),
                "f": Curve(hz, np.array([math.nan, 1.0]), "dB"),
            },
        )
    )
    assert set(readings.missing) == {"a", "b", "d", "e"}
    assert set(readings.numbers) == {"c"}
    assert set(readings.curves) == {"f"}


SHORT_PLAN = Plan(
    integrity=IntegrityPlan(1.0, -100.0, -60.0, 60.0),
    response=ResponsePlan(100.0, 6000.0, 3, 0.05, 1.0),
    sensitivity=SensitivityPlan(200.0, 2000.0),
    distortion=DistortionPlan(100.0, 800.0, 3, (2, 3)),
    rub=RubPlan(100.0, 400.0, 1000.0, 6000.0),
    impedance=ImpedancePlan(100.0, 6000.0, 12, 0.03, 300.0, 5000.0),
    resonance=ResonancePlan(100.0, 400.0),
    driver=DriverPlan(100.0, 6000.0),
    closed_box=ClosedBoxPlan(Estimate(100.0, 1.0), Estimate(0.4, 0.01)),
    panel=PanelPlan(1000.0, 6000.0, 50.0),
    idle_noise=IdleNoisePlan(8),
    filter=FilterPlan("high-pass", 500.0, 2000.0, 100.0, 300.0),
    sections=(SectionPlan("woofer", 100.0, 800.0), SectionPlan("tweeter", 2000.0, 5000.0)),
)
# The lead-in is long enough to read idle noise from.
SHORT_SWEEP = replace(SHORTER_SWEEP, lead_in_s=0.25)
SHORT_DRIVE = 0.05 * sweep_voltage(SHORT_SWEEP)  # of a full scale of 20 V


def made(kind: str, gain: float, seed: int, n: int) -> FloatArray:
    """Return something that an input may deliver, relative to full scale."""
    rng = np.random.default_rng(seed)
    sweep = np.resize(SHORT_DRIVE, n)
    signals = {
        "zeros": np.zeros(n),
        "constant": np.ones(n),
        "noise": rng.standard_normal(n),
        "click": np.eye(1, n, int(rng.integers(n)))[0],
        "sweep": sweep,
        "square": np.sign(sweep),
        "late": np.roll(sweep, int(rng.integers(n))),
        "least": np.full(n, 5e-324),
    }
    return np.clip(gain * signals[kind], -1.0, 1.0)


def channel_kinds() -> st.SearchStrategy[tuple[str, float]]:
    kinds = ("zeros", "constant", "noise", "click", "sweep", "square", "late", "least")
    return st.tuples(st.sampled_from(kinds), st.sampled_from([1e-160, 1e-8, 0.1, 1.0, 30.0]))


def fuzzed(kinds: list[tuple[str, float]], seed: int, n: int) -> Recording:
    samples = np.stack([made(kind, gain, seed + row, n) for row, (kind, gain) in enumerate(kinds)])
    channels = tuple(Channel(role, scale) for role, scale in FULL_SCALE.items())
    return Recording(samples, channels, SHORT_SWEEP, 1.0)


def assert_nothing_is_silently_wrong(measured: Measured) -> None:
    assert set(names_in(measured)) == set(all_names(SHORT_PLAN))
    assert all(math.isfinite(number.value) for number in measured.readings.numbers.values())
    for curve in measured.readings.curves.values():
        assert np.isfinite(curve.values).all()
    if any(fault.kind in FATAL_KINDS for fault in measured.integrity):
        assert set(measured.readings.missing) == set(all_names(SHORT_PLAN))


@settings(max_examples=100, deadline=None)
@given(
    st.lists(channel_kinds(), min_size=4, max_size=4),
    st.integers(0, 99),
    st.sampled_from([1, 17, SHORT_SWEEP.n_samples - 1, SHORT_SWEEP.n_samples, 12_501]),
)
def test_whatever_was_recorded_every_reading_is_finite_or_missing(
    kinds: list[tuple[str, float]], seed: int, n: int
) -> None:
    assert_nothing_is_silently_wrong(measure(fuzzed(kinds, seed, n), SHORT_PLAN))


@settings(max_examples=150, deadline=None)
@given(
    st.lists(channel_kinds(), min_size=3, max_size=3),
    st.sampled_from([0.02, 0.1, 1.0, 1.05, 30.0]),
    st.integers(0, 99),
    st.sampled_from([SHORT_SWEEP.n_samples, 12_501]),
)
def test_whatever_was_heard_of_a_drive_every_reading_is_finite_or_missing(
    kinds: list[tuple[str, float]], gain: float, seed: int, n: int
) -> None:
    with_drive = [kinds[0], ("sweep", gain), *kinds[1:]]
    assert_nothing_is_silently_wrong(measure(fuzzed(with_drive, seed, n), SHORT_PLAN))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(-1.0, 1.0), min_size=1, max_size=400), st.integers(0, 3))
def test_any_few_samples_over_a_good_sweep_break_nothing(values: list[float], row: int) -> None:
    samples = np.stack([SHORT_DRIVE] * 4)
    samples[row, 1000 : 1000 + len(values)] = values
    channels = tuple(Channel(role, scale) for role, scale in FULL_SCALE.items())
    measured = measure(Recording(samples, channels, SHORT_SWEEP, 1.0), SHORT_PLAN)
    assert_nothing_is_silently_wrong(measured)
