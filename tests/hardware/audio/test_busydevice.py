"""A device that another program holds is told, and works when it is free, without a restart."""

from __future__ import annotations

import threading
from pathlib import Path

import numpy as np
import pytest

from station.errors import AudioError
from station.hardware.audio.portaudio import PortAudioDevice
from station.hardware.files.stationfile import AudioSettings
from station.hardware.protocols.clock import SystemClock
from tests.hardware.audio.test_audiochild import put_in_place_of_sounddevice

# -9985 is paDeviceUnavailable of portaudio.h.
HELD_WHILE_A_FILE_IS_THERE = """
import threading
from pathlib import Path
import numpy as np

class PortAudioError(Exception):
    pass

def query_hostapis():
    return [{"name": "Fake"}]

def query_devices():
    return [{"name": "Bench", "hostapi": 0, "max_input_channels": 2, "max_output_channels": 1,
             "default_samplerate": 96000.0}]

class Stream:
    def __init__(self, *, blocksize, channels, callback, **_):
        if Path(__file__).with_name("held").exists():
            raise PortAudioError("Error opening Stream: Device unavailable", -9985)
        self.heard = np.full((blocksize, channels[0]), 0.25, np.float32)
        self.played = np.zeros((blocksize, channels[1]), np.float32)
        self.callback = callback
        self.over = threading.Event()

    def start(self):
        threading.Thread(target=self.run, daemon=True).start()

    def run(self):
        while not self.over.is_set():
            self.callback(self.heard, self.played, len(self.heard), None, None)

    def stop(self):
        self.over.set()

    def close(self):
        pass
"""


def test_a_held_device_is_told_and_the_next_unit_works_when_it_is_free(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_in_place_of_sounddevice(HELD_WHILE_A_FILE_IS_THERE, tmp_path, monkeypatch)
    held = tmp_path / "held"
    held.touch()
    settings = AudioSettings(
        device="Bench", rate_hz=96_000.0, block_frames=64, output=1,
        output_full_scale_v=20.0, silence_limit_s=5.0,
    )  # fmt: skip
    device = PortAudioDevice(settings, (1,), lock_folder=tmp_path, clock=SystemClock())

    def run() -> float:
        capture = device.play_and_record(
            np.zeros(256), on_meter=lambda _: None, stop=threading.Event()
        )
        return float(np.min(capture.samples))

    for _again in range(2):
        with pytest.raises(AudioError, match="Another program is using the audio device") as caught:
            run()
        assert caught.value.remedy == "Close that program, then repeat."
    held.unlink()
    assert run() == 0.25
    device.close()
