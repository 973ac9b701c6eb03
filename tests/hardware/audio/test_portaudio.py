"""What the real audio device refuses before any audio system is touched."""

from __future__ import annotations

import threading
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from station.errors import AudioError, StoppedError
from station.hardware.audio.portaudio import PortAudioDevice
from station.hardware.files.stationfile import AudioSettings
from station.hardware.protocols.audio import AudioDevice
from station.hardware.protocols.clock import SystemClock

SETTINGS = AudioSettings(
    device="Bench",
    rate_hz=96_000.0,
    block_frames=1024,
    output=1,
    output_full_scale_v=20.0,
    silence_limit_s=2.0,
)


def device(lock_folder: Path) -> PortAudioDevice:
    return PortAudioDevice(SETTINGS, (1, 2), lock_folder=lock_folder, clock=SystemClock())


def run(audio: AudioDevice, output: NDArray[np.float64], stop: threading.Event) -> None:
    audio.play_and_record(output, on_meter=lambda _: None, stop=stop)


@pytest.mark.parametrize(
    "output",
    [
        np.zeros(0),
        np.zeros((2, 10)),
        np.array([0.0, np.nan]),
        np.array([0.0, np.inf]),
        np.array([0.0, -1.001]),
    ],
    ids=["empty", "two rows", "NaN", "infinite", "beyond full scale"],
)
def test_an_output_that_cannot_be_played_is_refused(
    output: NDArray[np.float64], tmp_path: Path
) -> None:
    audio = device(tmp_path)
    with pytest.raises(ValueError, match=r"need shape \(n,\)|finite and within full scale"):
        run(audio, output, threading.Event())
    audio.close()
    assert list(tmp_path.iterdir()) == []


def test_a_run_that_is_stopped_already_touches_no_device(tmp_path: Path) -> None:
    stop = threading.Event()
    stop.set()
    audio = device(tmp_path)
    with pytest.raises(StoppedError):
        run(audio, np.zeros(10), stop)
    audio.close()
    assert list(tmp_path.iterdir()) == []


def test_an_audio_system_that_cannot_start_holds_no_device(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    audio = device(tmp_path / "locks")
    for _ in range(2):  # the second call starts afresh
        with pytest.raises(AudioError, match="apt install libportaudio2"):
            run(audio, np.zeros(10), threading.Event())
    audio.close()
    assert not (tmp_path / "locks").exists()
