from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.recording import Channel, Recording
from station.analysis.signals.microphoneresponse import MicrophoneResponse
from station.analysis.signals.spectra import (
    even_fast_length,
    inverse_sweep,
    phase_ramp,
    spectra_of,
    start_of_sweep,
)
from station.analysis.signals.sweep import sweep_spectrum, sweep_voltage
from tests.analysis.closedforms import (
    SHORT_SWEEP,
    SWEEP,
    one,
    played,
    recording_of,
    sealed_box,
    through,
)


@pytest.mark.parametrize("latency_samples", [0.0, 1111.0, 333.4, 17_000.75])
def test_start_is_found_to_a_fraction_of_a_sample(latency_samples: float) -> None:
    drive_v = through(sweep_voltage(SWEEP), one, SWEEP.rate_hz, latency_samples)
    spectra = spectra_of(recording_of(SWEEP, {"microphone": drive_v, "voltage": drive_v}))
    found = spectra.start_s * SWEEP.rate_hz - SWEEP.lead_in_samples
    assert found == pytest.approx(latency_samples, abs=0.01)


def test_start_is_found_with_the_leads_reversed() -> None:
    drive_v = -through(sweep_voltage(SWEEP), one, SWEEP.rate_hz, 500.0)
    spectra = spectra_of(recording_of(SWEEP, {"microphone": drive_v, "voltage": drive_v}))
    found = spectra.start_s * SWEEP.rate_hz - SWEEP.lead_in_samples
    assert found == pytest.approx(500.0, abs=0.01)


def test_channels_are_transformed_in_their_units() -> None:
    spectra = spectra_of(played(SWEEP, sealed_box))
    # Parseval: the sum over the bins of a real transform, the ends once, is n times the energy.
    power = np.abs(spectra.by_role["voltage"]) ** 2
    energy = (2.0 * np.sum(power) - power[0] - power[-1]) / spectra.n
    assert energy == pytest.approx(np.sum(sweep_voltage(SWEEP) ** 2), rel=1e-6)
    assert set(spectra.by_role) == {"microphone", "voltage"}
    assert not spectra.by_role["voltage"].flags.writeable


def test_the_microphone_is_heard_as_an_ideal_one_would_have_heard() -> None:
    def microphone(frequency_hz: FloatArray) -> ComplexArray:
        # A first-order roll-off at 12 kHz, as a large capsule has, with its phase.
        return 1.0 / (1.0 + 1j * frequency_hz / 12e3)

    table_hz = np.geomspace(10.0, 48e3, 400)
    response = MicrophoneResponse(
        table_hz,
        20.0 * np.log10(np.abs(microphone(table_hz))),
        np.degrees(np.angle(microphone(table_hz))),
    )
    heard = played(SWEEP, lambda f_hz: sealed_box(f_hz) * microphone(f_hz))
    ideal = spectra_of(played(SWEEP, sealed_box))
    found = spectra_of(replace(heard, microphone_response=response))
    assert found.start_s == ideal.start_s
    np.testing.assert_array_equal(found.by_role["voltage"], ideal.by_role["voltage"])
    read = (ideal.frequency_hz > 20.0) & (ideal.frequency_hz < 40e3)
    ratio = found.by_role["microphone"][read] / ideal.by_role["microphone"][read]
    # Straight lines between 400 points: the curve bends by far less than 0.01 dB between two.
    np.testing.assert_allclose(ratio, 1.0, atol=1e-3)


def test_a_response_without_a_microphone_changes_nothing() -> None:
    flat = MicrophoneResponse(np.array([1000.0]), np.array([6.0]), np.array([0.0]))
    drive_v = sweep_voltage(SHORT_SWEEP)
    recording = replace(recording_of(SHORT_SWEEP, {"voltage": drive_v}), microphone_response=flat)
    assert set(spectra_of(recording).by_role) == {"voltage"}


def test_ambient_is_not_transformed() -> None:
    drive_v = sweep_voltage(SHORT_SWEEP)
    recording = recording_of(
        SHORT_SWEEP, {"ambient": drive_v, "voltage": drive_v, "microphone": drive_v}
    )
    assert "ambient" not in spectra_of(recording).by_role


def test_inverse_sweep_undoes_the_analytic_one() -> None:
    n = 30_000
    inverse = inverse_sweep(SWEEP, n)
    frequency_hz = np.arange(1, n // 2 + 1) * SWEEP.rate_hz / n
    product = inverse[1:] * SWEEP.rate_hz * sweep_spectrum(SWEEP, frequency_hz)
    # The phases are some 10^5 radians, and differ by the rounding of the frequencies.
    assert product == pytest.approx(np.ones(n // 2), rel=1e-8)
    assert inverse[0] == 0.0


@given(st.integers(1, 5000), st.floats(-2.0, 2.0))
def test_ramp_is_a_pure_delay(n_bins: int, delay_s: float) -> None:
    direct = np.exp(-2j * np.pi * 0.4 * np.arange(n_bins) * delay_s)
    # Phases of some 10^4 radians, each rounded to 2^-52 of itself.
    assert np.max(np.abs(phase_ramp(n_bins, 0.4, delay_s) - direct)) < 1e-10


@given(st.integers(4, 10**7))
def test_fast_length_is_even_and_hardly_longer(n_samples: int) -> None:
    length = even_fast_length(n_samples)
    assert length % 2 == 0
    assert n_samples <= length <= 1.5 * n_samples


def test_silence_has_some_start_all_the_same() -> None:
    n = 4000
    start_s = start_of_sweep(np.zeros(n // 2 + 1, dtype=np.complex128), SHORT_SWEEP, n)
    assert np.isfinite(start_s)


def test_recording_without_voltage_is_refused() -> None:
    recording = recording_of(SHORT_SWEEP, {"microphone": np.ones(100)})
    with pytest.raises(ValueError, match="voltage"):
        spectra_of(recording)
    empty = Recording(np.zeros((1, 0)), (Channel("voltage", 1.0),), SHORT_SWEEP, 1.0)
    with pytest.raises(ValueError, match="voltage"):
        spectra_of(empty)
    with pytest.raises(ValueError, match="2 samples"):
        inverse_sweep(SHORT_SWEEP, 1)
