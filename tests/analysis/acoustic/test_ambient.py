from __future__ import annotations

import numpy as np
import pytest

from station.analysis.acoustic.ambient import ambient_level
from station.analysis.signals.sweep import Sweep
from station.errors import NoSignalError
from tests.analysis.closedforms import SHORT_SWEEP, recording_of

TIME_S = np.arange(SHORT_SWEEP.n_samples) / SHORT_SWEEP.rate_hz
LEAD_IN = SHORT_SWEEP.lead_in_samples


def tone(rms_pa: float) -> np.ndarray:
    """Return 1 kHz, whole periods of which fill the lead-in, and something loud after it."""
    return np.where(
        np.arange(TIME_S.size) < LEAD_IN,
        np.sqrt(2.0) * rms_pa * np.sin(2e3 * np.pi * TIME_S),
        5.0,
    )


def test_calibrator_of_one_pascal_reads_94_db() -> None:
    # IEC 60942: 1 Pa is 93.98 dB re 20 µPa.
    recording = recording_of(SHORT_SWEEP, {"microphone": tone(1.0)})
    assert ambient_level(recording) == pytest.approx(93.98, abs=0.005)


def test_offset_is_no_sound() -> None:
    recording = recording_of(SHORT_SWEEP, {"microphone": tone(0.01) + 3.0})
    assert ambient_level(recording) == pytest.approx(53.98, abs=0.005)


def test_ambient_microphone_is_heard_rather_than_the_main_one() -> None:
    recording = recording_of(SHORT_SWEEP, {"microphone": tone(1.0), "ambient": tone(0.1)})
    assert ambient_level(recording) == pytest.approx(73.98, abs=0.005)


def test_dead_microphone_and_missing_lead_in_are_told() -> None:
    with pytest.raises(NoSignalError, match="dead"):
        ambient_level(recording_of(SHORT_SWEEP, {"microphone": np.zeros(TIME_S.size)}))
    at_once = Sweep(60.0, 75.0, 7000.0, 0.25, 1.0, 0.005, 0.15, 16e3)
    with pytest.raises(NoSignalError, match="too short"):
        ambient_level(recording_of(at_once, {"microphone": np.ones(at_once.n_samples)}))
