"""Bursts at known instants of the excitation, and what they are taken for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.analysis.acoustic.rubcause import LEAST_PROBABILITY, PROFILES, CauseName, cause_of
from station.analysis.acoustic.rubfeatures import RubFeatures, rub_features
from station.analysis.arrays import FloatArray
from station.errors import NoSignalError
from tests.analysis.goodunit import (
    FLIGHT_SAMPLES,
    LATENCY_SAMPLES,
    PLAN,
    good_recording,
    good_signals,
)

BURST_PA = 20e-6 * 10.0 ** (80.0 / 20.0)
RING_HZ = 9000.0
SPAN_HZ = (200.0, 400.0)  # well above the resonance: the motion's phase hardly turns


def bursts_at(cycles: FloatArray) -> FloatArray:
    """Return short bursts when the sweep has passed so many cycles.

    The sweep's phase is 2 pi f1 L (exp(t/L) - 1): cycle k is passed at L ln(1 + k/(f1 L))
    (Novak, Lotton, Simon, JAES 63(10), 2015, eq. 34).
    """
    sweep = good_recording().sweep
    time_s = sweep.rate_s * np.log(1.0 + cycles / (sweep.start_hz * sweep.rate_s))
    heard = np.zeros(good_recording().n_samples)
    length = np.arange(20) / sweep.rate_hz
    burst = BURST_PA * np.sin(2.0 * np.pi * RING_HZ * length) * np.hanning(20)
    arrives = sweep.lead_in_samples + LATENCY_SAMPLES + FLIGHT_SAMPLES + time_s * sweep.rate_hz
    for first in np.rint(arrives).astype(int):
        heard[first : first + 20] += burst
    return heard


def cycles_in(span_hz: tuple[float, float]) -> tuple[float, float]:
    """Return the cycles passed at two frequencies: f = f1 exp(t/L) gives k = L (f - f1)."""
    sweep = good_recording().sweep
    first, last = (sweep.rate_s * (hz - sweep.start_hz) for hz in span_hz)
    return first, last


def features_of(cycles: FloatArray) -> RubFeatures:
    microphone = good_signals()["microphone"] + bursts_at(cycles)
    return rub_features(good_recording(microphone=microphone), PLAN)


def test_bursts_once_a_cycle_keep_to_one_instant() -> None:
    features = features_of(np.arange(*np.rint(cycles_in(SPAN_HZ))))
    assert features.once_ratio > 0.9


def test_bursts_twice_a_cycle_do_not_but_come_opposite_each_other() -> None:
    features = features_of(np.arange(*np.rint(cycles_in(SPAN_HZ)), 0.5))
    assert features.once_ratio < 0.1
    assert abs(features.twice_ratio) > 0.8


def test_bursts_at_random_keep_to_no_instant() -> None:
    rng = np.random.default_rng(8)
    features = features_of(rng.uniform(*cycles_in(SPAN_HZ), 200))
    # 200 random phases: the mean vector is 0.07 long on average (Rayleigh: sqrt(pi / 4 n) = 0.063)
    assert features.once_ratio < 0.2
    assert abs(features.twice_ratio) < 0.2


def test_bursts_are_found_where_they_are_excited() -> None:
    narrow = features_of(np.arange(*np.rint(cycles_in((280.0, 286.0))), 0.25))
    assert narrow.excited_octaves == pytest.approx(np.log2(283.0 / 100.0), abs=0.05)
    assert narrow.span_octaves < 0.05


def test_high_bursts_are_shrill_and_over_at_once() -> None:
    features = features_of(np.arange(*np.rint(cycles_in(SPAN_HZ))))
    assert features.shrill_db > -0.5  # 9 kHz, above 5 kHz
    assert features.ringing_ratio < 0.05  # a fifth of a millisecond long


def test_where_nothing_stands_above_the_noise_there_is_no_cause() -> None:
    signals = good_signals()
    loud = np.random.default_rng(2).standard_normal(signals["microphone"].size)
    first = round(good_recording().sweep.lead_in_s * good_recording().rate_hz)
    loud[first:] = 0.0  # noise before the sweep only: all after it lies below
    with pytest.raises(NoSignalError, match="Nothing stands above"):
        rub_features(good_recording(microphone=signals["microphone"] + loud), PLAN)


def test_a_plan_without_rub_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="no rub"):
        rub_features(good_recording(), replace(PLAN, rub=None))


def typical(cause: CauseName, **changed: float) -> RubFeatures:
    centres = {name: centre for name, (centre, _) in PROFILES[cause].items()}
    return RubFeatures(**{"excited_octaves": 0.0, **centres, **changed})


@pytest.mark.parametrize("cause", list(PROFILES))
def test_what_looks_typical_is_named(cause: CauseName) -> None:
    found = cause_of(typical(cause))
    assert found.name == cause
    assert found.probability[cause] > 0.9
    assert sum(found.probability.values()) == pytest.approx(1.0)


def test_what_looks_like_nothing_known_is_not_named() -> None:
    assert cause_of(typical("coil_rub", shrill_db=-12.0, once_ratio=0.95)).name is None


def test_what_lies_between_two_causes_is_not_named() -> None:
    rub, leak = typical("coil_rub"), typical("air_leak")
    shares = np.linspace(0.0, 1.0, 201)
    found = [
        cause_of(RubFeatures(*(rub.values() * (1.0 - share) + leak.values() * share)))
        for share in shares
    ]
    unsure = [one for one in found if one.name is None]
    assert unsure
    assert all(max(one.probability.values()) < LEAST_PROBABILITY for one in unsure)
