from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.acoustic.response import reference_of, response_level, sensitivity
from station.analysis.plan import ResponsePlan, SensitivityPlan
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.transfer import Transfer, gated_transfer
from station.errors import NoSignalError
from tests.analysis.closedforms import SHORT_SWEEP, SWEEP, one, played, sealed_box, true_band_power

PLAN = ResponsePlan(40.0, 20e3, 12, 0.2, 2.83)
SHORT_PLAN = ResponsePlan(100.0, 5000.0, 3, 0.05, 2.83)
# 1 Pa is 20 lg(1 / 20e-6) = 93.979 dB SPL.
PASCAL_DB_SPL = 93.9794


def response_to(sweep, path, gate_s: float, **how: float) -> Transfer:
    return gated_transfer(spectra_of(played(sweep, path, **how)), "microphone", gate_s)


def test_level_is_that_of_the_known_filter() -> None:
    curve = response_level(response_to(SWEEP, sealed_box, 0.2), PLAN, SWEEP, 1.0)
    power = true_band_power(sealed_box, curve.frequency_hz, 12)
    expected_db = 10.0 * np.log10(power) + 20.0 * math.log10(2.83) + PASCAL_DB_SPL
    assert curve.unit == "dB"
    assert curve.values == pytest.approx(expected_db, abs=0.005)


def test_one_pascal_per_volt_at_two_metres_is_a_hundred_db_at_one_volt() -> None:
    plan = ResponsePlan(100.0, 5000.0, 3, 0.05, 1.0)
    curve = response_level(response_to(SHORT_SWEEP, one, 0.05), plan, SHORT_SWEEP, 2.0)
    # 93.979 + 20 lg 2 = 100.000: pressure falls with distance.
    assert curve.values == pytest.approx(100.0, abs=0.002)


def test_sensitivity_of_a_flat_unit_is_its_level() -> None:
    response = response_to(SHORT_SWEEP, one, 0.05)
    level = sensitivity(response, SensitivityPlan(200.0, 2000.0), SHORT_PLAN, SHORT_SWEEP, 1.0)
    # 93.979 + 20 lg 2.83 = 103.015
    assert level == pytest.approx(103.015, abs=0.002)


def test_sensitivity_averages_power_over_bands() -> None:
    def step(frequency_hz: np.ndarray) -> np.ndarray:
        return np.where(frequency_hz < 1122.018, 1.0, 3.0).astype(np.complex128)

    response = response_to(SHORT_SWEEP, step, 0.2)
    plan = ResponsePlan(100.0, 5000.0, 3, 0.2, 1.0)
    level = sensitivity(response, SensitivityPlan(1000.0, 1250.0), plan, SHORT_SWEEP, 1.0)
    # One band of power 1 and one of power 9: mean 5, 6.990 dB. The gate rounds the step a little.
    assert level == pytest.approx(PASCAL_DB_SPL + 6.990, abs=0.05)


@settings(max_examples=15, deadline=None)
@given(st.floats(-20.0, 10.0))
def test_louder_sound_shifts_the_curve(shift_db: float) -> None:
    def louder(frequency_hz: np.ndarray) -> np.ndarray:
        return 0.3 * 10.0 ** (shift_db / 20.0) * one(frequency_hz)

    quiet = response_level(response_to(SHORT_SWEEP, one, 0.05), SHORT_PLAN, SHORT_SWEEP, 1.0)
    loud = response_level(response_to(SHORT_SWEEP, louder, 0.05), SHORT_PLAN, SHORT_SWEEP, 1.0)
    expected_db = shift_db + 20.0 * math.log10(0.3)
    assert loud.values - quiet.values == pytest.approx(expected_db, abs=1e-4)


@settings(max_examples=15, deadline=None)
@given(st.floats(0.0, 600.0), st.floats(0.0, 400.0), st.floats(0.05, 2.0))
def test_latency_flight_and_drive_change_nothing(
    latency: float, flight: float, gain: float
) -> None:
    plain = response_level(response_to(SHORT_SWEEP, one, 0.05), SHORT_PLAN, SHORT_SWEEP, 1.0)
    late = response_level(
        response_to(
            SHORT_SWEEP, one, 0.05, latency_samples=latency, flight_samples=flight, gain=gain
        ),
        SHORT_PLAN,
        SHORT_SWEEP,
        1.0,
    )
    assert late.values == pytest.approx(plain.values, abs=0.002)


def test_reference_keeps_the_response_without_its_flight() -> None:
    # 343.2 m/s, dry air at 20 °C (ISO 9613-1): 2 m take 559.44 samples at 96 kHz.
    response = response_to(SWEEP, sealed_box, 0.2, flight_samples=559.44, latency_samples=700.0)
    reference = reference_of(response, SWEEP, 2.0, 40.0, 20e3)
    truth = 2.0 * sealed_box(reference.frequency_hz)
    # The mean over a twelfth of an octave is the centre's value to second order.
    assert np.max(np.abs(reference.response / truth - 1.0)) < 5e-3


def test_silence_and_beyond_the_sweep_have_no_level() -> None:
    response = response_to(SHORT_SWEEP, one, 0.05)
    with pytest.raises(NoSignalError, match="sweep"):
        response_level(response, ResponsePlan(20.0, 5000.0, 3, 0.05, 1.0), SHORT_SWEEP, 1.0)
    silent = Transfer(response.frequency_hz, 0.0 * response.values, 0.0, "Pa/V")
    with pytest.raises(NoSignalError, match="heard nothing"):
        response_level(silent, SHORT_PLAN, SHORT_SWEEP, 1.0)


def test_impossible_distances_are_refused() -> None:
    response = response_to(SHORT_SWEEP, one, 0.05)
    with pytest.raises(ValueError, match="distance"):
        response_level(response, SHORT_PLAN, SHORT_SWEEP, 0.0)
    with pytest.raises(ValueError, match="distance"):
        reference_of(response, SHORT_SWEEP, -1.0, 100.0, 5000.0)
