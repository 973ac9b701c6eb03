"""A good unit on a good station, made from closed forms, with a plan for all readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.plan import (
    DistortionPlan,
    ImpedancePlan,
    IntegrityPlan,
    Plan,
    Reference,
    ResonancePlan,
    ResponsePlan,
    RubPlan,
    SectionPlan,
    SensitivityPlan,
)
from station.analysis.recording import Recording, Role
from station.analysis.signals.sweep import Sweep, sweep_voltage
from tests.analysis.closedforms import (
    FULL_SCALE,
    SWEEP,
    admittance,
    recording_of,
    through,
    two_way,
)

LATENCY_SAMPLES = 1111
FLIGHT_SAMPLES = 280.4
SOURCE_OHM = 0.1  # amplifier and cable
CONVERTER_NOISE_RATIO = 10.0 ** (-112.0 / 20.0)
ROOM_PA = 20e-6 * 10.0 ** (45.0 / 20.0)

REFERENCE_HZ = 1000.0 * 10.0 ** (0.3 * (np.arange(-52, 53) + 0.5) / 12.0)  # IEC 61260-1, b = 12
PLAN = Plan(
    integrity=IntegrityPlan(1.0, -100.0, -60.0, 60.0),
    response=ResponsePlan(40.0, 20e3, 12, 0.2, 2.83),
    reference=Reference(REFERENCE_HZ, two_way(REFERENCE_HZ)),
    sensitivity=SensitivityPlan(200.0, 5000.0),
    distortion=DistortionPlan(100.0, 3000.0, 3, (2, 3, 4, 5)),
    rub=RubPlan(40.0, 800.0, 1000.0, 16e3),
    impedance=ImpedancePlan(20.0, 20e3, 12, 0.3, 100.0, 20e3),
    resonance=ResonancePlan(25.0, 150.0),
    sections=(SectionPlan("woofer", 80.0, 1500.0), SectionPlan("tweeter", 4000.0, 16e3)),
)


@lru_cache(maxsize=4)
def good_signals(sweep: Sweep = SWEEP) -> Mapping[Role, FloatArray]:
    """Return what the four channels hear, in their units; not to be written to."""
    rng = np.random.default_rng(20)
    rate_hz = sweep.rate_hz
    amplifier_v = through(sweep_voltage(sweep), np.ones_like, rate_hz, LATENCY_SAMPLES)

    def at_terminals(frequency_hz: FloatArray) -> FloatArray:
        return 1.0 / (1.0 + SOURCE_OHM * admittance(frequency_hz))

    voltage_v = through(amplifier_v, at_terminals, rate_hz)
    room_pa = ROOM_PA * rng.standard_normal((2, voltage_v.size))
    signals: dict[Role, FloatArray] = {
        "microphone": through(voltage_v, two_way, rate_hz, FLIGHT_SAMPLES) + room_pa[0],
        "voltage": voltage_v,
        "current": through(voltage_v, admittance, rate_hz),
        "ambient": 1e-3 * np.roll(voltage_v, 300) + room_pa[1],
    }
    heard: dict[Role, FloatArray] = {}
    for role, signal in signals.items():
        noise = CONVERTER_NOISE_RATIO * FULL_SCALE[role] * rng.standard_normal(signal.size)
        heard[role] = signal + noise
        heard[role].flags.writeable = False
    return MappingProxyType(heard)


def good_recording(**changed: FloatArray) -> Recording:
    """Return the recording of a good unit, some channels replaced by other signals."""
    return recording_of(SWEEP, {**good_signals(), **changed})


def without_samples(recording: Recording, at_hz: float, count: int) -> Recording:
    """Return a recording from which the device lost samples when the sweep was at a frequency."""
    sweep = recording.sweep
    first = sweep.lead_in_samples + LATENCY_SAMPLES + round(sweep.time_of(at_hz) * sweep.rate_hz)
    kept = np.delete(recording.samples, np.s_[first : first + count], axis=1)
    end = recording.samples[:, recording.n_samples - count :]
    return replace(recording, samples=np.concatenate([kept, end], axis=1))
