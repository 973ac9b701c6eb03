"""The audio child: the one process that imports PortAudio, because only a process can be killed.

When a device or a sound server dies, PortAudio's calls may never return, and its own end may hang
or abort; whoever made them is lost. So the station starts this module as a process, talks to it
over a socket, and ends it when frames stop. It plays nothing until it is asked to. When the
station's end of the socket closes it fades out and leaves in order, because a sound server waits
for seconds on a client that is suddenly gone; what hangs is cut short.
"""

from __future__ import annotations

import contextlib
import importlib
import os
import queue
import signal
import socket
import sys
import threading
import time
from collections.abc import Callable
from typing import Any, NoReturn

from station.hardware.between.deviceinfo import DeviceInfo
from station.hardware.between.haltflag import HaltFlag
from station.hardware.between.link import NO_SAMPLES, Link, Samples
from station.hardware.between.messages import (
    Fault,
    Message,
    Opened,
    Ready,
    Record,
    Recorded,
    Stop,
    Stopped,
)
from station.hardware.child.tape import Tape

METER_INTERVAL_S = 0.05
RUN_IN_BLOCKS = 2
RUN_OUT_BLOCKS = 1
FADE_S = 0.01
LEAVE_LIMIT_S = 1.0
FLAG_WORDS = ("input underflow", "input overflow", "output underflow", "output overflow")

Runs = queue.SimpleQueue[tuple[Record, Tape] | None]


def main() -> None:
    """Serve the socket whose descriptor is the first argument; the second is the halt flag's."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the station's to handle
    link = Link(socket.socket(fileno=int(sys.argv[1])))
    halt = HaltFlag(int(sys.argv[2]))
    runs: Runs = queue.SimpleQueue()
    threading.Thread(target=listen, args=(link, runs, halt), daemon=True).start()
    try:
        sounddevice = importlib.import_module("sounddevice")  # starts the audio system
    except ImportError as error:
        link.send(Fault("binding", 0, str(error)))
        return
    except OSError as error:
        link.send(Fault("library", 0, str(error)))
        return
    link.send(Ready(devices_of(sounddevice)))
    while (wanted := runs.get()) is not None:
        run(link, sounddevice, *wanted)


def devices_of(sounddevice: Any) -> tuple[DeviceInfo, ...]:
    """Return all devices, in PortAudio's index order."""
    host_apis = [str(api["name"]) for api in sounddevice.query_hostapis()]
    return tuple(
        DeviceInfo(
            name=str(device["name"]),
            host_api=host_apis[device["hostapi"]],
            inputs=int(device["max_input_channels"]),
            outputs=int(device["max_output_channels"]),
            default_rate_hz=float(device["default_samplerate"]),
        )
        for device in sounddevice.query_devices()
    )


def listen(link: Link, runs: Runs, halt: HaltFlag) -> NoReturn:
    """Queue what the station asks for; see to it that the child leaves when the station is gone."""
    tape: Tape | None = None
    while True:
        try:
            received = link.receive()
        except EOFError:
            if tape is not None:
                tape.stop()
            runs.put(None)
            time.sleep(LEAVE_LIMIT_S)
            os._exit(1)
        match received:
            case (Record() as request, stimulus):
                tape = tape_for(request, stimulus, halt)
                runs.put((request, tape))
            case (Stop(), _) if tape is not None:
                tape.stop()


def tape_for(request: Record, stimulus: Samples, halt: HaltFlag) -> Tape:
    """Return a blank tape for a run."""
    return Tape(
        stimulus,
        output_column=request.output_column,
        input_columns=request.input_columns,
        run_in_frames=RUN_IN_BLOCKS * request.block_frames,
        run_out_frames=RUN_OUT_BLOCKS * request.block_frames,
        fade_frames=round(FADE_S * request.rate_hz),
        halted=halt.is_set,
    )


def run(link: Link, sounddevice: Any, request: Record, tape: Tape) -> None:
    """Play and record one tape, and say how it went."""
    try:
        stream = stream_for(sounddevice, request, callback_for(tape))
        stream.start()
    except (sounddevice.PortAudioError, ValueError) as error:
        tell(link, Fault("open", code_of(error), str(error)))
        return
    tell(link, Opened())
    while not tape.over.wait(METER_INTERVAL_S):
        tell(link, tape.moved())
    whole = tape.error is None and not tape.stopped
    if whole:  # before closing, which takes several blocks and may hang
        tell(link, Recorded(tape.flags, tape.pace.rate_hz()), tape.recorded)
    stream.stop()
    stream.close()
    if tape.error is not None:
        tell(link, Fault("callback", 0, repr(tape.error)))
    elif tape.stopped:
        tell(link, Stopped())


def tell(link: Link, message: Message, samples: Samples = NO_SAMPLES) -> None:
    """Tell the station something; a run ends in order even if the station is gone."""
    with contextlib.suppress(OSError):
        link.send(message, samples)


def stream_for(sounddevice: Any, request: Record, callback: Callable[..., None]) -> Any:
    """Return a stream with everything said, so that no library-wide default plays a part."""
    return sounddevice.Stream(
        samplerate=request.rate_hz,
        blocksize=request.block_frames,
        device=(request.device_index, request.device_index),
        channels=(max(request.input_columns) + 1, request.output_column + 1),
        dtype=("float32", "float32"),
        latency=("high", "high"),
        clip_off=False,
        dither_off=False,
        never_drop_input=False,
        prime_output_buffers_using_stream_callback=False,
        callback=callback,
    )


def callback_for(tape: Tape) -> Callable[..., None]:
    """Return the audio callback that serves a tape."""

    def callback(heard: Samples, played: Samples, _frames: int, _time: object, status: Any) -> None:
        tape.exchange(heard, played, flags_of(status) if status else ())

    return callback


def flags_of(status: object) -> tuple[str, ...]:
    """Return the words of what the driver reports; the start's priming is no fault."""
    return tuple(word for word in FLAG_WORDS if getattr(status, word.replace(" ", "_")))


def code_of(error: Exception) -> int:
    """Return PortAudio's code of an error, 0 if it has none."""
    return next((part for part in error.args if isinstance(part, int)), 0)


if __name__ == "__main__":
    main()
