"""The readings that only some models ask for, from the recording to the number.

Each unit is a closed form, so that its parameters are known; what a fit or a filter reading is
worth by itself is proved beside its own module.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import scipy.optimize

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.gathering import CLOSED_BOX_NAMES, DRIVER_NAMES, PATTERN_NAMES
from station.analysis.measure import Measured, measure
from station.analysis.plan import (
    ClosedBoxPlan,
    DipolePlan,
    DriverPlan,
    FilterPlan,
    IdleNoisePlan,
    ImpedancePlan,
    PanelPlan,
    PatternPlan,
    needed_roles,
)
from station.analysis.readings import Number
from station.analysis.recording import Recording
from station.analysis.signals.sweep import sweep_voltage
from station.analysis.statistics.population import pattern_model
from station.analysis.statistics.uncertainty import Estimate
from tests.analysis.closedforms import (
    FULL_SCALE,
    SWEEP,
    driver_ohm,
    recording_of,
    sealed_box,
    through,
    two_way,
)
from tests.analysis.goodunit import FLIGHT_SAMPLES, LATENCY_SAMPLES, PLAN, good_recording

IDLE_SWEEP = replace(SWEEP, lead_in_s=1.0)
TURNS_RATIO = 50.0


def numbers_of(measured: Measured) -> dict[str, Number]:
    assert measured.integrity == ()
    assert dict(measured.readings.missing) == {}
    return dict(measured.readings.numbers)


def noisy(signal: FloatArray, level: float, seed: int) -> FloatArray:
    return signal + level * np.random.default_rng(seed).standard_normal(signal.size)


def test_a_driver_at_the_terminals_shows_its_resistance_and_quality_factors() -> None:
    # driver_ohm: 6 Ω, Qms 5, 30 Ω of motion, so Qes = Qms Re / Res = 1 and Qts = 5/6 (Small, 1972).
    plan = replace(
        PLAN,
        driver=DriverPlan(25.0, 5000.0),
        closed_box=ClosedBoxPlan(Estimate(40.0, 0.2), Estimate(0.7, 0.005)),
    )
    numbers = numbers_of(measure(good_recording(), plan))
    for name, truth in (("re", 6.0), ("qms", 5.0), ("qes", 1.0), ("qts", 5.0 / 6.0)):
        assert numbers[name].value == pytest.approx(truth, rel=3e-3)
        assert 0.0 < numbers[name].uncertainty < 3e-3 * truth
    # Alpha = (50/40)^2 - 1; Qtc / (Qts fc/fs) - 1 = (5/6) / (0.7 * 1.25) - 1 (Small, 1972, 1973).
    ratio, excess = numbers["compliance_ratio"], numbers["qtc_excess"]
    assert ratio.value == pytest.approx(0.5625, abs=0.005)
    assert excess.value == pytest.approx(-0.04762, abs=0.003)
    # u(alpha) = 2 (1 + alpha) u(fs)/fs = 0.0156; of the ratio, fs and Q in quadrature.
    assert ratio.uncertainty == pytest.approx(0.0156, rel=0.05)
    assert excess.uncertainty == pytest.approx(0.9524 * math.hypot(0.005, 0.005 / 0.7), rel=0.05)


def test_a_missing_driver_takes_its_box_with_it() -> None:
    plan = replace(
        PLAN,
        driver=DriverPlan(200.0, 5000.0),  # no resonance in it
        closed_box=ClosedBoxPlan(Estimate(40.0, 0.2), Estimate(0.7, 0.005)),
    )
    readings = measure(good_recording(), plan).readings
    assert set(readings.missing) == {*DRIVER_NAMES, *CLOSED_BOX_NAMES}
    assert "fs" in readings.numbers


def test_the_rated_impedance_is_kept_or_not() -> None:
    # IEC 60268-5: the lowest |Z| is at least 80 % of the rated impedance; here it is about 6.02 Ω.
    assert PLAN.impedance is not None
    hz = np.geomspace(100.0, 20e3, 200_001)
    lowest_ohm = float(np.min(np.abs(driver_ohm(hz))))
    for rated_ohm in (4.0, 8.0):
        electric = replace(PLAN.impedance, rated_ohm=rated_ohm)
        margin = numbers_of(measure(good_recording(), replace(PLAN, impedance=electric)))[
            "impedance_margin"
        ]
        assert margin.value == pytest.approx(lowest_ohm - 0.8 * rated_ohm, abs=1e-3)
        assert margin.unit == "Ω"
        assert margin.uncertainty > 0.0


def panel_ohm(frequency_hz: FloatArray) -> ComplexArray:
    """Return 0.7 Ω and 20 µH before 2.5 µF with 30 Ω across: 1 nF behind 1:50."""
    s = 2j * np.pi * np.maximum(frequency_hz, 1.0)
    return 0.7 + s * 20e-6 + 1.0 / (1.0 / 30.0 + s * 2.5e-6)


def test_a_panel_shows_its_capacitance_and_its_minimum() -> None:
    voltage_v = through(sweep_voltage(SWEEP), np.ones_like, SWEEP.rate_hz, LATENCY_SAMPLES)
    current_a = through(voltage_v, lambda hz: 1.0 / panel_ohm(hz), SWEEP.rate_hz)
    sound_pa = through(voltage_v, two_way, SWEEP.rate_hz, FLIGHT_SAMPLES)
    recording = recording_of(
        SWEEP,
        {
            "microphone": noisy(sound_pa, 1e-3, 1),
            "voltage": noisy(voltage_v, 1e-4, 2),
            "current": noisy(current_a, 1e-4, 3),
        },
    )
    plan = replace(
        PLAN,
        impedance=ImpedancePlan(50.0, 38e3, 12, 0.3, 8e3, 40e3),
        resonance=None,
        panel=PanelPlan(8e3, 40e3, TURNS_RATIO),
    )
    numbers = numbers_of(measure(recording, plan))
    fine_hz = np.geomspace(10e3, 40e3, 400_001)
    z_ohm = panel_ohm(fine_hz)
    truth = {
        "panel_capacitance": 1e-9,
        "leakage_inductance": 20e-6,
        "panel_minimum_hz": float(fine_hz[np.argmin(np.abs(z_ohm))]),
        "inductive_above": float(fine_hz[np.argmin(np.abs(z_ohm.imag))]),
        "impedance_min": float(np.min(np.abs(z_ohm))),
    }
    for name, value in truth.items():
        assert numbers[name].value == pytest.approx(value, rel=2e-3)
        assert 0.0 < numbers[name].uncertainty < 2e-3 * value
    assert (numbers["panel_capacitance"].unit, numbers["leakage_inductance"].unit) == ("F", "H")


def test_a_filter_shows_its_corner_and_its_slope() -> None:
    # sealed_box: a high-pass of second order at 45 Hz, Q 0.8; the corner solves |H|^2 = 1/2.
    def power(hz: float) -> float:
        return float(np.abs(sealed_box(np.array([hz]))[0] / sealed_box(np.array([1e3]))[0]) ** 2)

    corner_hz = scipy.optimize.brentq(lambda hz: power(hz) - 0.5, 30.0, 60.0)
    wide = replace(PLAN.response, from_hz=22.4)
    plan = replace(PLAN, response=wide, filter=FilterPlan("high-pass", 300.0, 3000.0, 23.0, 32.0))
    numbers = numbers_of(measure(good_recording(), plan))
    # The parabola about the corner moves it by some 0.2 % (filtersetting.py).
    assert numbers["filter_corner"].value == pytest.approx(corner_hz, rel=0.01)
    assert 0.0 < numbers["filter_corner"].uncertainty < 0.5
    slope = 10.0 * math.log10(power(32.0) / power(23.0)) / math.log2(32.0 / 23.0)
    assert numbers["filter_slope"].value == pytest.approx(slope, abs=0.5)
    assert numbers["filter_slope"].unit == "dB/octave"


def quiet(hum_pa: float, hiss_pa: float, room_pa: float) -> Recording:
    """Return a run of a powered unit with hum at 100 Hz and hiss, in a room with its own hiss."""
    rng = np.random.default_rng(8)
    drive_v = sweep_voltage(IDLE_SWEEP)
    time_s = np.arange(drive_v.size) / IDLE_SWEEP.rate_hz
    own_pa = math.sqrt(2.0) * hum_pa * np.sin(2.0 * np.pi * 100.0 * time_s)
    own_pa += hiss_pa * rng.standard_normal(drive_v.size)
    room = room_pa * rng.standard_normal((2, drive_v.size))
    sound_pa = through(drive_v, two_way, IDLE_SWEEP.rate_hz, FLIGHT_SAMPLES)
    return recording_of(
        IDLE_SWEEP,
        {"microphone": sound_pa + own_pa + room[0], "voltage": drive_v, "ambient": room[1]},
        0.5,
    )


IDLE_PLAN = replace(PLAN, impedance=None, resonance=None, sections=(), idle_noise=IdleNoisePlan(8))


def test_hum_is_read_at_one_metre_and_the_room_beside_it() -> None:
    # 2 mPa at half a metre are 40 dB SPL there and 33.98 dB at 1 m.
    measured = measure(quiet(2e-3, 0.0, 1e-6), IDLE_PLAN)
    numbers = measured.readings.numbers
    assert numbers["hum"].value == pytest.approx(33.98, abs=0.05)
    # IEC 61672-1, table 3: A is -19.1 dB at 100 Hz.
    assert numbers["idle_noise"].value == pytest.approx(33.98 - 19.1, abs=0.1)
    assert numbers["hum_prominence"].value > 40.0
    assert numbers["noise.hum"].value < 0.0
    assert numbers["noise.idle_noise"].value < 0.0


def test_a_loud_room_reads_as_noise_at_both_microphones() -> None:
    numbers = measure(quiet(0.0, 0.0, 2e-3), IDLE_PLAN).readings.numbers
    assert numbers["idle_noise"].value == pytest.approx(numbers["noise.idle_noise"].value, abs=0.3)
    assert numbers["hum_prominence"].value < 6.0


def test_idle_noise_cannot_be_read_from_a_short_lead_in_or_without_the_room() -> None:
    plan = replace(IDLE_PLAN, reference=None)
    assert "ambient" in needed_roles(plan)
    readings = measure(good_recording(), plan).readings
    assert {"idle_noise", "hum", "hum_prominence", "noise.hum"} <= set(readings.missing)
    whole = good_recording()
    rows = [whole.roles.index(role) for role in ("microphone", "voltage")]
    deaf = Recording(whole.samples[rows], tuple(whole.channels[r] for r in rows), SWEEP, 1.0)
    assert "missing_channel" in {fault.kind for fault in measure(deaf, plan).integrity}


@pytest.mark.parametrize("sign", [-1.0, 1.0])
def test_the_back_of_a_unit_is_in_phase_or_not(sign: float) -> None:
    drive_v = sweep_voltage(SWEEP)
    rear_pa = sign * 0.9 * through(drive_v, two_way, SWEEP.rate_hz, FLIGHT_SAMPLES + 48.0)
    signals = {
        "microphone": noisy(through(drive_v, two_way, SWEEP.rate_hz, FLIGHT_SAMPLES), 1e-3, 5),
        "voltage": noisy(drive_v, 1e-5, 6),
        "rear": noisy(rear_pa, 1e-3, 7),
    }
    whole = recording_of(SWEEP, {k: v for k, v in signals.items() if k in FULL_SCALE})
    samples = np.vstack([whole.samples, signals["rear"] / 20.0])
    channels = (*whole.channels, replace(whole.channels[0], role="rear"))
    recording = Recording(samples, channels, SWEEP, 1.0)
    plan = replace(PLAN, impedance=None, resonance=None, dipole=DipolePlan(500.0, 4000.0, 2e-3))
    numbers = numbers_of(measure(recording, plan))
    assert numbers["dipole"].value == pytest.approx(sign, abs=0.01)
    assert numbers["dipole_delay"].value == pytest.approx(0.5e-3, abs=2e-6)  # 48 samples
    assert numbers["dipole_opposite"].value < 0.9


def test_a_unit_is_as_far_from_the_production_as_it_differs() -> None:
    good = measure(good_recording(), PLAN).readings.curves["response"]
    rng = np.random.default_rng(12)
    # One mode of 0.5 dB over all frequencies, and 0.1 dB of its own at each.
    level_db = 0.5 * rng.standard_normal((60, 1)) + 0.1 * rng.standard_normal(
        (60, good.values.size)
    )
    model = pattern_model(
        good.frequency_hz, good.values + level_db, tuple(f"u{n}" for n in range(60)), 0.9
    )
    plan = replace(PLAN, pattern=PatternPlan("response", model))
    numbers = numbers_of(measure(good_recording(), plan))
    assert {numbers[name].unit for name in PATTERN_NAMES} == {"sigma"}
    assert numbers["pattern.rest"].value < 0.5  # it lies in the population's middle
    quiet_pa = 10.0 ** (-1.5 / 20.0) * good_recording().in_unit("microphone")
    lower = numbers_of(measure(good_recording(microphone=quiet_pa), plan))
    assert lower["pattern.modes"].value == pytest.approx(3.0, abs=0.6)  # 1.5 dB of 0.5 dB
    assert lower["pattern.rest"].value < 0.7


def test_a_curve_that_is_missing_leaves_its_pattern_missing() -> None:
    good = measure(good_recording(), PLAN).readings.curves["impedance"]
    rng = np.random.default_rng(13)
    curves = good.values * (1.0 + 0.01 * rng.standard_normal((40, good.values.size)))
    model = pattern_model(good.frequency_hz, curves, tuple(f"u{n}" for n in range(40)), 0.1)
    plan = replace(PLAN, pattern=PatternPlan("impedance", model))
    readings = measure(good_recording(current=np.zeros(SWEEP.n_samples)), plan).readings
    assert readings.missing["pattern.rest"] == readings.missing["impedance"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"driver": DriverPlan(20.0, 5e3), "resonance": None}, "driver"),
        ({"closed_box": ClosedBoxPlan(Estimate(40.0, 0.2), Estimate(0.7, 0.01))}, "closed box"),
        ({"impedance": None, "resonance": None, "panel": PanelPlan(5e3, 40e3, 50.0)}, "panel"),
    ],
)
def test_a_reading_without_what_it_is_read_from_is_refused(
    changes: dict[str, object], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        measure(good_recording(), replace(PLAN, **changes))
