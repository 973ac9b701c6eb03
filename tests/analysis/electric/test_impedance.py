"""Impedance against circuits that were computed elsewhere or by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import scipy.fft

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.electric.impedance import ImpedanceResult, impedance
from station.analysis.plan import ImpedancePlan
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.sweep import Sweep, sweep_voltage
from station.errors import NoSignalError
from tests.ngspice.spice import NETWORKS
from tests.ngspice.truth import current_through, recording_of, truth_ohm

SWEEP = Sweep(15.0, 19.0, 44e3, 1.0, 2.83, 0.1, 0.35, 96e3)
PLAN = ImpedancePlan(20.0, 40e3, 12, 0.25, 100.0, 20e3)


def measured(
    current_a: FloatArray, plan: ImpedancePlan = PLAN, voltage_v: FloatArray | None = None
) -> ImpedanceResult:
    voltage_v = sweep_voltage(SWEEP) if voltage_v is None else voltage_v
    return impedance(spectra_of(recording_of(voltage_v, current_a, SWEEP)), plan)


def current_of(admittance_s: ComplexArray) -> FloatArray:
    """Return the current through an admittance given on the bins of twice the recording."""
    n = 2 * SWEEP.n_samples
    spectrum = scipy.fft.rfft(sweep_voltage(SWEEP), n) * admittance_s
    current_a: FloatArray = scipy.fft.irfft(spectrum, n)[: SWEEP.n_samples]
    return current_a


def bins_hz() -> FloatArray:
    return scipy.fft.rfftfreq(2 * SWEEP.n_samples, 1.0 / SWEEP.rate_hz)


@pytest.mark.parametrize("network", NETWORKS)
def test_one_second_sweep_reads_a_loudspeaker_within_a_thousandth(network: str) -> None:
    result = measured(current_through(network, SWEEP))
    truth = truth_ohm(network, result.frequency_hz)
    # 0.1 % and 0.1 degree are the station's claim; found 0.014 % and 0.007 degree.
    np.testing.assert_allclose(result.magnitude_ohm, np.abs(truth), rtol=5e-4)
    np.testing.assert_allclose(result.phase_deg, np.degrees(np.angle(truth)), atol=0.02)


@pytest.mark.parametrize("gate_s", [0.15, 0.4])
def test_gate_changes_nothing_once_the_unit_has_died_away(gate_s: float) -> None:
    current_a = current_through("driver", SWEEP)
    result = measured(current_a, replace(PLAN, gate_s=gate_s))
    truth = truth_ohm("driver", result.frequency_hz)
    # Qms 6.4 at 79.6 Hz: a time constant of at most 26 ms.
    np.testing.assert_allclose(result.magnitude_ohm, np.abs(truth), rtol=5e-4)


def test_minimum_of_the_hybrid_is_found_between_bands() -> None:
    plan = replace(PLAN, minimum_from_hz=15e3, minimum_to_hz=30e3)
    result = measured(current_through("hybrid", SWEEP), plan)
    # ngspice on a grid of 1 Hz: 2.00244 ohm at 23.321 kHz.
    assert result.minimum_ohm == pytest.approx(2.00244, rel=1e-4)
    assert result.minimum_hz == pytest.approx(23_321.0, rel=1e-3)


def test_minimum_at_the_end_of_its_range_is_the_end() -> None:
    plan = replace(PLAN, minimum_from_hz=1000.0, minimum_to_hz=10e3)
    result = measured(current_through("driver", SWEEP), plan)
    assert result.minimum_hz == pytest.approx(1000.0)
    assert result.minimum_ohm == pytest.approx(
        abs(truth_ohm("driver", np.array([1e3]))[0]), rel=1e-4
    )


def test_resistor_reads_its_ohms_and_no_phase() -> None:
    result = measured(sweep_voltage(SWEEP) / 8.0)
    # Ohm's law; the denominator's regularisation is 1e-7 of the power.
    np.testing.assert_allclose(result.magnitude_ohm, 8.0, rtol=1e-5)
    np.testing.assert_allclose(result.phase_deg, 0.0, atol=1e-3)


def test_inductance_leads_and_capacitance_lags() -> None:
    omega = 2.0 * np.pi * bins_hz()
    coil = measured(current_of(1.0 / (6.0 + 1j * omega * 0.5e-3)))
    # 6 ohm and 0.5 mH: 45 degrees at R / (2 pi L) = 1909.9 Hz
    at_corner = np.interp(1909.86, coil.frequency_hz, coil.phase_deg)
    assert at_corner == pytest.approx(45.0, abs=0.1)
    capacitor = measured(current_of(1j * omega * 10e-6 / (1.0 + 1j * omega * 10e-6 * 6.0)))
    # 6 ohm and 10 uF: -45 degrees at 1 / (2 pi R C) = 2652.6 Hz
    at_corner = np.interp(2652.58, capacitor.frequency_hz, capacitor.phase_deg)
    assert at_corner == pytest.approx(-45.0, abs=0.1)


def test_sharp_peak_is_read_at_its_height() -> None:
    frequency_hz = np.maximum(bins_hz(), 1e-3)
    centre_hz = 1000.0 * 10.0 ** (0.3 * -35.5 / 12.0)  # of the twelfth octave by 129 Hz
    detuning = frequency_hz / centre_hz - centre_hz / frequency_hz
    result = measured(current_of(1.0 / (6.0 + 40.0 / (1.0 + 8j * detuning))))
    band = int(np.argmin(np.abs(result.frequency_hz - centre_hz)))
    # Q 8: a mean over the twelfth octave would read it 6 % low.
    assert result.magnitude_ohm[band] == pytest.approx(46.0, rel=1e-3)


def test_distortion_of_the_current_does_not_reach_the_impedance() -> None:
    current_a = current_through("driver", SWEEP)
    current_a = current_a + 0.03 * current_a**2 / np.max(np.abs(current_a))
    result = measured(current_a)
    truth = truth_ohm("driver", result.frequency_hz)
    # Ungated, 1.5 % of second harmonic is a ripple of 1.5 %; found 0.23 % at 20 Hz.
    np.testing.assert_allclose(result.magnitude_ohm, np.abs(truth), rtol=3e-3)
    above = result.frequency_hz > 30.0
    np.testing.assert_allclose(result.magnitude_ohm[above], np.abs(truth[above]), rtol=1e-3)


def test_latency_of_the_device_changes_nothing() -> None:
    later = 1000
    result = measured(
        np.roll(current_through("two_way", SWEEP), later),
        voltage_v=np.roll(sweep_voltage(SWEEP), later),
    )
    truth = truth_ohm("two_way", result.frequency_hz)
    np.testing.assert_allclose(result.magnitude_ohm, np.abs(truth), rtol=1e-3)


def test_noise_of_the_current_input_is_averaged() -> None:
    noise_a = 1e-4 * np.random.default_rng(3).standard_normal(SWEEP.n_samples)
    result = measured(current_through("two_way", SWEEP) + noise_a)
    truth = truth_ohm("two_way", result.frequency_hz)
    # 0.1 mA beside 0.4 A; found 0.016 %.
    np.testing.assert_allclose(result.magnitude_ohm, np.abs(truth), rtol=1e-3)


def test_broken_current_sense_gives_no_reading() -> None:
    noise_a = 1e-4 * np.random.default_rng(3).standard_normal(SWEEP.n_samples)
    with pytest.raises(NoSignalError, match="No current follows"):
        measured(noise_a)
    with pytest.raises(NoSignalError, match="dead"):
        measured(np.zeros(SWEEP.n_samples))


@pytest.mark.parametrize(
    "plan",
    [
        replace(PLAN, from_hz=10.0),
        replace(PLAN, to_hz=45e3),
        replace(PLAN, minimum_from_hz=5.0),
        replace(PLAN, minimum_to_hz=50e3),
    ],
)
def test_range_outside_the_sweep_is_refused(plan: ImpedancePlan) -> None:
    with pytest.raises(ValueError, match="inside the sweep"):
        measured(sweep_voltage(SWEEP) / 8.0, plan)


@pytest.mark.parametrize(
    "plan", [replace(PLAN, from_hz=40e3), replace(PLAN, minimum_from_hz=30e3, minimum_to_hz=20e3)]
)
def test_empty_range_is_refused(plan: ImpedancePlan) -> None:
    with pytest.raises(ValueError, match="must rise"):
        measured(sweep_voltage(SWEEP) / 8.0, plan)


def test_recording_that_ends_before_the_sweep_gives_no_reading() -> None:
    voltage_v = sweep_voltage(SWEEP)[: SWEEP.sweep_samples // 2]
    with pytest.raises(NoSignalError, match="shorter than the sweep"):
        measured(voltage_v / 8.0, voltage_v=voltage_v)


def test_result_cannot_be_changed() -> None:
    result = measured(sweep_voltage(SWEEP) / 8.0)
    with pytest.raises(ValueError, match="read-only"):
        result.z_ohm[0] = 1.0
    assert math.isfinite(result.minimum_hz)
