from __future__ import annotations

import numpy as np
import pyfar
import pytest

from station.analysis.signals.bands import band_centres, band_edges
from station.analysis.signals.smoothing import band_power
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.sweep import Sweep, sweep_voltage
from station.analysis.signals.transfer import Transfer, gated_transfer
from station.errors import NoSignalError
from tests.analysis.closedforms import (
    SHORT_SWEEP,
    SWEEP,
    admittance,
    one,
    played,
    recording_of,
    sealed_box,
    through,
    true_band_power,
    two_way,
)

TWO_SECONDS = Sweep(15.0, 19.0, 44e3, 2.0, 2.83, 0.1, 0.4, 96e3)


def in_bands(transfer: Transfer, centres_hz: np.ndarray, fraction: int) -> np.ndarray:
    step_hz = float(transfer.frequency_hz[1])
    return band_power(np.abs(transfer.values) ** 2, step_hz, *band_edges(centres_hz, fraction))


@pytest.mark.parametrize(
    ("sweep", "path", "gate_s"),
    [
        (SWEEP, sealed_box, 0.1),
        (SWEEP, sealed_box, 0.3),
        (SWEEP, two_way, 0.3),
        (TWO_SECONDS, two_way, 0.1),
    ],
    ids=["short_gate", "long_gate", "two_way", "two_seconds"],
)
def test_known_filter_is_read_within_five_thousandths_of_a_db(sweep, path, gate_s) -> None:
    recording = played(sweep, path, latency_samples=1111.0, flight_samples=280.4)
    transfer = gated_transfer(spectra_of(recording), "microphone", gate_s)
    centres_hz = band_centres(40.0, 20e3, 12)
    error_db = 10.0 * np.log10(
        in_bands(transfer, centres_hz, 12) / true_band_power(path, centres_hz, 12)
    )
    # 0.02 dB is asked for; the worst, at 40 Hz, was 0.0017 dB when this was written.
    assert np.max(np.abs(error_db)) < 0.005


def vented_box(frequency_hz: np.ndarray) -> np.ndarray:
    """Return a Butterworth high-pass of fourth order at 25 Hz, as a tuned vented box has."""
    s = 1j * frequency_hz / 25.0
    dampings = 2.0 * np.sin(np.pi / 8.0), 2.0 * np.cos(np.pi / 8.0)
    return 0.3 * s**4 / np.prod([s**2 + damping * s + 1.0 for damping in dampings], axis=0)


def ringing_box(frequency_hz: np.ndarray) -> np.ndarray:
    """Return a closed box with a Q of 2 at 22 Hz."""
    s = 1j * frequency_hz / 22.0
    return 0.3 * s**2 / (s**2 + s / 2.0 + 1.0)


@pytest.mark.parametrize("path", [sealed_box, vented_box, ringing_box])
@pytest.mark.parametrize("gate_s", [0.25, 0.3])
def test_lowest_bands_are_read_as_well(path, gate_s: float) -> None:
    recording = played(SWEEP, path, flight_samples=280.0)
    transfer = gated_transfer(spectra_of(recording), "microphone", gate_s)
    centres_hz = band_centres(20.0, 20e3, 12)
    error_db = 10.0 * np.log10(
        in_bands(transfer, centres_hz, 12) / true_band_power(path, centres_hz, 12)
    )
    # Continued as a power series the vented box was 1.6 dB off at 20 Hz and 0.17 dB at 40 Hz; the
    # largest found is 0.013 dB at 20 Hz.
    assert np.max(np.abs(error_db)) < 0.02
    assert np.max(np.abs(error_db[centres_hz > 39.0])) < 0.002


def test_regularisation_biases_by_less_than_a_thousandth_of_a_db() -> None:
    transfer = gated_transfer(spectra_of(played(SWEEP, one)), "microphone", 0.2)
    inside = (transfer.frequency_hz > 100.0) & (transfer.frequency_hz < 40e3)
    assert np.max(np.abs(20.0 * np.log10(np.abs(transfer.values[inside])))) < 1e-3
    # Beyond the sweep's end nothing is claimed.
    assert np.max(np.abs(transfer.values[transfer.frequency_hz > 46e3])) < 1e-3


def test_amplifier_cancels() -> None:
    def amplifier(frequency_hz: np.ndarray) -> np.ndarray:
        s = 1j * frequency_hz
        return 1.7 * s / (s + 8.0) * 60e3 / (s + 60e3)

    drive_v = through(sweep_voltage(SWEEP), amplifier, SWEEP.rate_hz, 200.0)
    recording = recording_of(
        SWEEP, {"microphone": through(drive_v, sealed_box, SWEEP.rate_hz), "voltage": drive_v}
    )
    transfer = gated_transfer(spectra_of(recording), "microphone", 0.2)
    centres_hz = band_centres(40.0, 20e3, 12)
    error_db = 10.0 * np.log10(
        in_bands(transfer, centres_hz, 12) / true_band_power(sealed_box, centres_hz, 12)
    )
    assert np.max(np.abs(error_db)) < 0.01


def test_gate_cuts_a_late_echo_and_keeps_the_phase() -> None:
    def with_echo(frequency_hz: np.ndarray) -> np.ndarray:
        return sealed_box(frequency_hz) * (1.0 + 0.5 * np.exp(-2j * np.pi * frequency_hz * 0.150))

    recording = played(SWEEP, with_echo, flight_samples=96.0)
    transfer = gated_transfer(spectra_of(recording), "microphone", 0.12)
    frequency_hz = transfer.frequency_hz
    inside = (frequency_hz > 200.0) & (frequency_hz < 20e3)
    flight = np.exp(-2j * np.pi * frequency_hz[inside] * 96.0 / SWEEP.rate_hz)
    ratio = transfer.values[inside] / (sealed_box(frequency_hz[inside]) * flight)
    assert np.max(np.abs(ratio - 1.0)) < 1e-3
    longer = gated_transfer(spectra_of(recording), "microphone", 0.3)
    at = np.argmin(np.abs(frequency_hz - 1000.0))
    # 0.15 s are 150 periods of 1 kHz: there the echo adds its half in full.
    assert abs(longer.values[at]) == pytest.approx(1.5 * abs(sealed_box(np.array([1e3]))[0]), 0.01)


def test_admittance_comes_out_in_its_unit() -> None:
    drive_v = sweep_voltage(SWEEP)
    recording = recording_of(
        SWEEP,
        {"current": through(drive_v, admittance, SWEEP.rate_hz), "voltage": drive_v},
    )
    transfer = gated_transfer(spectra_of(recording), "current", 0.3)
    frequency_hz = transfer.frequency_hz
    inside = (frequency_hz > 40.0) & (frequency_hz < 20e3)
    ratio = transfer.values[inside] / admittance(frequency_hz[inside])
    assert np.max(np.abs(ratio - 1.0)) < 1e-3
    assert transfer.unit == "A/V"


@pytest.mark.parametrize("flight_samples", [96.0, 280.4])
def test_delay_is_when_the_sound_arrives(flight_samples: float) -> None:
    recording = played(SWEEP, one, latency_samples=1111.0, flight_samples=flight_samples)
    transfer = gated_transfer(spectra_of(recording), "microphone", 0.2)
    # A parabola through three samples of a pulse two samples wide is good for a fifth of one:
    # 2 µs, or 0.7 mm of air.
    assert transfer.delay_s * SWEEP.rate_hz == pytest.approx(flight_samples, abs=0.2)


def test_same_data_as_pyfar_gives_the_same_transfer_function() -> None:
    recording = played(SWEEP, two_way, flight_samples=280.0)
    ours = gated_transfer(spectra_of(recording), "microphone", 0.35)
    microphone, voltage = (
        pyfar.Signal(recording.in_unit(role), SWEEP.rate_hz, fft_norm="none")
        for role in ("microphone", "voltage")
    )
    inversion = pyfar.dsp.RegularizedSpectrumInversion.from_frequency_range(voltage, (20.0, 40e3))
    theirs = (microphone.freq * inversion.invert.freq)[0]
    frequency_hz = np.asarray(microphone.frequencies)
    inside = (frequency_hz > 60.0) & (frequency_hz < 20e3)
    level_db = 20.0 * np.log10(np.abs(theirs[inside]))
    interpolated = np.interp(
        frequency_hz[inside], ours.frequency_hz, 20.0 * np.log10(np.abs(ours.values))
    )
    assert np.max(np.abs(interpolated - level_db)) < 0.01


@pytest.mark.parametrize("dead", ["microphone", "voltage"])
def test_dead_channel_has_no_transfer_function(dead: str) -> None:
    drive_v = sweep_voltage(SHORT_SWEEP)
    channels = {"microphone": drive_v, "voltage": drive_v, dead: 0.0 * drive_v}
    spectra = spectra_of(recording_of(SHORT_SWEEP, channels))
    with pytest.raises(NoSignalError, match="dead"):
        gated_transfer(spectra, "microphone", 0.05)


def test_impossible_gates_and_roles_are_refused() -> None:
    spectra = spectra_of(played(SHORT_SWEEP, one))
    with pytest.raises(ValueError, match="gate"):
        gated_transfer(spectra, "microphone", 0.0)
    with pytest.raises(ValueError, match="gate"):
        gated_transfer(spectra, "microphone", 0.1, before_s=0.0)
    with pytest.raises(ValueError, match="current"):
        gated_transfer(spectra, "current", 0.1)
