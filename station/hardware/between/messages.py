"""What the station and its audio child say to each other."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Literal

from station.hardware.between.deviceinfo import DeviceInfo


@dataclass(frozen=True, slots=True)
class Ready:
    """From the child: the audio system is started and has these devices, in index order."""

    devices: tuple[DeviceInfo, ...]


@dataclass(frozen=True, slots=True)
class Record:
    """To the child, with the stimulus behind it: play it and record; columns count from 0."""

    device_index: int
    rate_hz: float
    block_frames: int
    output_column: int
    input_columns: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Opened:
    """From the child: the stream runs."""


@dataclass(frozen=True, slots=True)
class Moved:
    """From the child, several times a second: frames that passed, and latest peaks."""

    passed_frames: int
    recorded_frames: int
    peaks: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Recorded:
    """From the child, with the samples behind it: the recording is whole.

    `rate_hz` is at what rate frames passed by the computer's clock; zero if too few passed.
    """

    flags: tuple[str, ...]
    rate_hz: float


@dataclass(frozen=True, slots=True)
class Stop:
    """To the child: fade out and stop."""


@dataclass(frozen=True, slots=True)
class Stopped:
    """From the child: the output is silent and the stream closed."""


@dataclass(frozen=True, slots=True)
class Fault:
    """From the child: what went wrong, in the words of the library, with PortAudio's code."""

    stage: Literal["binding", "library", "open", "callback"]
    code: int
    text: str


Message = Ready | Record | Opened | Moved | Recorded | Stop | Stopped | Fault
KINDS: dict[str, Callable[..., Message]] = {
    kind.__name__: kind for kind in (Ready, Record, Opened, Moved, Recorded, Stop, Stopped, Fault)
}


def encoded(message: Message) -> bytes:
    """Return a message as JSON."""
    return json.dumps({"kind": type(message).__name__, **asdict(message)}).encode()


def decoded(text: bytes) -> Message:
    """Return the message that `encoded` made."""
    fields = json.loads(text)
    kind = KINDS[fields.pop("kind")]
    return kind(**{name: restored(value) for name, value in fields.items()})


def restored(value: object) -> object:
    """Return a JSON value as the dataclasses hold it: tuples, and devices in them."""
    if not isinstance(value, list):
        return value
    return tuple(DeviceInfo(**each) if isinstance(each, dict) else each for each in value)
