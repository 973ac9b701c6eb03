from __future__ import annotations

import numpy as np
import pytest

from station.analysis.recording import Recording, Role
from station.analysis.signals.spectra import spectra_of, start_of_sweep
from station.analysis.signals.sweep import sweep_voltage
from station.analysis.trust.drive import NOTHING, DriveState, drive_state
from tests.analysis.closedforms import SHORT_SWEEP, SWEEP, recording_of, through, two_way
from tests.analysis.goodunit import good_recording, good_signals, without_samples


def state_of(recording: Recording, role: Role = "voltage", *, current: bool = False) -> DriveState:
    spectra = spectra_of(recording)
    spectrum = spectra.by_role[role]
    start_s = start_of_sweep(spectrum, spectra.sweep, spectra.n)
    drawn = spectra.by_role["current"] if current else None
    return drive_state(spectrum, start_s, spectra.sweep, spectra.n, drawn)


def test_copy_of_the_drive_is_like_it() -> None:
    drive_v = 0.5 * through(sweep_voltage(SWEEP), np.ones_like, SWEEP.rate_hz, 1234.5)
    state = state_of(recording_of(SWEEP, {"voltage": drive_v}))
    assert state.likeness_ratio == pytest.approx(1.0, abs=1e-6)
    assert state.level_ratio == pytest.approx(0.5, rel=1e-6)
    assert state.residual_db < -100.0


@pytest.mark.parametrize("at_hz", [60.0, 100.0, 300.0, 1000.0, 5000.0, 12e3, 20e3, 35e3])
def test_eight_lost_samples_stand_out_by_thirty_db(at_hz: float) -> None:
    clean = state_of(good_recording())
    lost = state_of(without_samples(good_recording(), at_hz, 8))
    assert lost.residual_db > clean.residual_db + 30.0
    assert clean.residual_db < -80.0


@pytest.mark.parametrize("at_hz", [300.0, 1000.0, 5000.0])
def test_lost_samples_are_found_where_they_were_lost(at_hz: float) -> None:
    lost = state_of(without_samples(good_recording(), at_hz, 8))
    assert lost.residual_at_hz == pytest.approx(at_hz, rel=0.3)  # a third octave, and a half more


def test_current_does_not_hide_lost_samples() -> None:
    clean = state_of(good_recording(), current=True)
    lost = state_of(without_samples(good_recording(), 1000.0, 8), current=True)
    assert lost.residual_db > clean.residual_db + 30.0


@pytest.mark.parametrize("corner_hz", [3.0, 10.0])
def test_amplifier_with_high_pass_leaves_nothing(corner_hz: float) -> None:
    def amplifier(frequency_hz: np.ndarray) -> np.ndarray:
        s = 1j * frequency_hz / corner_hz
        return s / (s + 1.0) * 70e3 / (1j * frequency_hz + 70e3)

    voltage_v = through(good_signals()["voltage"], amplifier, SWEEP.rate_hz)
    assert state_of(good_recording(voltage=voltage_v)).residual_db < -75.0


def test_sharp_resonance_of_the_load_is_explained_by_its_current() -> None:
    # An open driver leaves the crossover's coil and capacitor alone: 0.5 ohm, 0.5 mH, 8 µF, which
    # ring at 2.5 kHz with Q 16, behind 0.1 ohm of cable.
    def load_ohm(frequency_hz: np.ndarray) -> np.ndarray:
        s = 2j * np.pi * np.maximum(frequency_hz, 1e-3)
        return 0.5 + 0.5e-3 * s + 1.0 / (8e-6 * s)

    drive_v = sweep_voltage(SWEEP)
    current_a = through(drive_v, lambda f: 1.0 / (load_ohm(f) + 0.1), SWEEP.rate_hz)
    recording = recording_of(SWEEP, {"voltage": drive_v - 0.1 * current_a, "current": current_a})
    assert state_of(recording).residual_db > -60.0
    assert state_of(recording, current=True).residual_db < -90.0


def test_sound_is_heard_and_noise_is_not() -> None:
    signals = good_signals()
    heard = state_of(good_recording(), "microphone")
    noise = np.random.default_rng(3).standard_normal(SWEEP.n_samples)
    nothing = state_of(good_recording(microphone=1e-3 * noise), "microphone")
    assert heard.explained_ratio > 0.9
    assert nothing.explained_ratio < 0.3
    assert state_of(good_recording(microphone=0.0 * signals["ambient"]), "microphone") == NOTHING


def test_sound_and_current_are_less_like_the_drive_than_the_voltage() -> None:
    recording = good_recording()
    assert state_of(recording, "voltage").likeness_ratio > 0.99
    assert state_of(recording, "current").likeness_ratio < 0.95
    assert state_of(recording, "microphone").likeness_ratio < 0.9


def test_too_short_a_recording_is_refused() -> None:
    with pytest.raises(ValueError, match="too few"):
        drive_state(np.ones(9, dtype=np.complex128), 0.0, SHORT_SWEEP, 16)


def test_sections_in_the_same_channel_do_not_matter() -> None:
    sound_pa = through(sweep_voltage(SWEEP), two_way, SWEEP.rate_hz, 300.0)
    state = state_of(recording_of(SWEEP, {"microphone": sound_pa, "voltage": sound_pa}))
    assert state.residual_db < -75.0
