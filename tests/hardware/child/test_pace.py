"""A device's real rate is told by the computer's clock, whatever single blocks do."""

from __future__ import annotations

import threading
from pathlib import Path

import numpy as np
import pytest

from station.errors import AudioLostError
from station.hardware.audio.portaudio import PortAudioDevice
from station.hardware.child.pace import Pace
from station.hardware.files.stationfile import AudioSettings
from station.hardware.protocols.clock import SystemClock
from tests.hardware.audio.test_audiochild import put_in_place_of_sounddevice

BLOCK = 1024


def paced(times_s: list[float]) -> Pace:
    pace = Pace()
    for number, at_s in enumerate(times_s):
        pace.note(at_s, number * BLOCK)
    return pace


def test_blocks_in_time_give_the_rate() -> None:
    # 1024 frames every 1/46.875 s are 48 000 a second.
    assert paced([n / 46.875 for n in range(40)]).rate_hz() == pytest.approx(48_000.0)


def test_some_late_blocks_change_nothing() -> None:
    times_s = [n / 93.75 for n in range(100)]
    for late in (0, 13, 57, 99):
        times_s[late] += 0.3
    assert paced(times_s).rate_hz() == pytest.approx(96_000.0, rel=1e-9)


@pytest.mark.parametrize("halted_at", [0.2, 0.5, 0.8])
def test_a_halt_in_mid_run_changes_nothing(halted_at: float) -> None:
    times_s = [n / 93.75 for n in range(100)]
    late = [at_s + (0.1 if at_s > halted_at * times_s[-1] else 0.0) for at_s in times_s]
    assert paced(late).rate_hz() == pytest.approx(96_000.0, rel=1e-9)


def test_too_few_blocks_tell_nothing() -> None:
    assert paced([0.0, 0.1, 0.2]).rate_hz() == 0.0
    assert paced([]).rate_hz() == 0.0


HALF_AS_FAST = """
import threading, time
import numpy as np

class PortAudioError(Exception):
    pass

def query_hostapis():
    return [{"name": "Fake"}]

def query_devices():
    return [{"name": "Bench", "hostapi": 0, "max_input_channels": 2, "max_output_channels": 1,
             "default_samplerate": 96000.0}]

class Stream:
    def __init__(self, *, samplerate, blocksize, channels, callback, **_):
        self.block_s = blocksize / (samplerate / 2.0)  # says one rate, runs at half of it
        self.heard = np.zeros((blocksize, channels[0]), np.float32)
        self.played = np.zeros((blocksize, channels[1]), np.float32)
        self.callback = callback
        self.over = threading.Event()

    def start(self):
        threading.Thread(target=self.run, daemon=True).start()

    def run(self):
        due_s = time.monotonic()
        while not self.over.wait(max(due_s - time.monotonic(), 0.0)):
            self.callback(self.heard, self.played, len(self.heard), None, None)
            due_s += self.block_s

    def stop(self):
        self.over.set()

    def close(self):
        pass
"""


def test_a_device_that_runs_at_another_rate_than_it_says_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_in_place_of_sounddevice(HALF_AS_FAST, tmp_path, monkeypatch)
    settings = AudioSettings(
        device="Bench", rate_hz=96_000.0, block_frames=BLOCK, output=1,
        output_full_scale_v=20.0, silence_limit_s=5.0,
    )  # fmt: skip
    device = PortAudioDevice(settings, (1, 2), lock_folder=tmp_path, clock=SystemClock())
    with pytest.raises(AudioLostError, match=r"runs at about 4\d{4} Hz, not at 96000 Hz"):
        device.play_and_record(
            np.zeros(30 * BLOCK), on_meter=lambda _: None, stop=threading.Event()
        )
    device.close()
