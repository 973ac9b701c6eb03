"""A lid on a serial line and a sweep through real PortAudio: how soon it is silent."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from station.errors import FixtureError, StoppedError
from station.hardware.attached.serialfixture import SerialFixture
from station.hardware.audio.portaudio import PortAudioDevice
from station.hardware.protocols.audio import Meter
from tests.hardware.jackbench import JackBench, clean_capture
from tests.hardware.serialbench import SerialBench

LONGEST_S = 3.0
RATE_HZ = 96_000.0


@dataclass(frozen=True)
class Silenced:
    """What came of one opening; times after the lid opened, blocks as the speaker heard them."""

    stopped: bool
    told_s: float
    last_sound_s: float  # until the end of the last block with sound
    blocks_after_told: int  # with sound, begun after the station was told
    faded: bool  # the last block with sound ends in silence, by a ramp


def opened_at(
    ratio: float,
    device: PortAudioDevice,
    jack: JackBench,
    fixture: SerialFixture,
    lids: SerialBench,
) -> Silenced:
    """Play, open the lid when so much is played, and say what the speaker heard."""
    tone = 0.5 * np.sin(2.0 * np.pi * 500.0 * np.arange(round(LONGEST_S * RATE_HZ)) / RATE_HZ)
    stop = threading.Event()
    times: dict[str, float] = {}

    def on_unsafe(_cause: FixtureError) -> None:
        times.setdefault("told", time.monotonic())
        stop.set()
        device.silence()

    def on_meter(meter: Meter) -> None:
        if meter.played_ratio >= ratio and "opened" not in times:
            times["opened"] = lids.tell("open")

    stopped = False
    lids.tell("close")
    try:
        with fixture.watched(on_unsafe):
            device.play_and_record(tone, on_meter=on_meter, stop=stop)
    except StoppedError:
        stopped = True
    block_s = jack.settings.block_frames / RATE_HZ
    log = jack.speaker.log()
    sound = [(at_s, last) for at_s, peak, last in log if peak > 0.0]
    late = sum(at_s > times["told"] for at_s, _ in sound)
    return Silenced(
        stopped,
        times["told"] - times["opened"],
        max(at_s for at_s, _ in sound) + block_s - times["opened"],
        late,
        sound[-1][1] == 0.0,
    )


def latency_blocks(device: PortAudioDevice, jack: JackBench) -> int:
    """Return how many blocks a click needs from the station through the speaker and back.

    What the device has taken already nobody can take back: it sounds for no longer than this.
    """
    click = np.zeros(round(0.5 * RATE_HZ))
    click[0] = 1.0
    capture = clean_capture(device, click)
    return -(-int(np.argmax(np.abs(capture.samples[0]))) // jack.settings.block_frames)


def openings(
    ratios: list[float], folder: Path, jack: JackBench, lids: SerialBench
) -> tuple[int, list[Silenced]]:
    """Return the latency in blocks, and what came of openings at these parts of a run."""
    device = jack.device(folder)
    try:
        with lids.fixture() as fixture:
            latency = latency_blocks(device, jack)
            return latency, [opened_at(ratio, device, jack, fixture, lids) for ratio in ratios]
    finally:
        device.close()
