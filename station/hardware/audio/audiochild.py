"""The station's handle on its audio child: start it, talk to it with time limits, end it."""

from __future__ import annotations

import contextlib
import os
import socket
import subprocess
import sys
import tempfile

from station.errors import AudioError
from station.hardware.audio import audiofaults
from station.hardware.between.deviceinfo import DeviceInfo
from station.hardware.between.haltflag import HaltFlag
from station.hardware.between.link import NO_SAMPLES, Link, Samples
from station.hardware.between.messages import Fault, Message, Ready

CHILD_MODULE = "station.hardware.child.portaudio_child"
START_LIMIT_S = 20.0  # Python, its libraries and the search for devices, on a busy computer
SEND_LIMIT_S = 5.0
LEAVE_LIMIT_S = 2.0  # longer than the child gives itself
LOG_TAIL_BYTES = 2000


class AudioChild:
    """A process that alone touches PortAudio; whoever starts one must end it."""

    def __init__(self) -> None:
        try:
            with contextlib.ExitStack() as undone:
                ours, theirs = (undone.enter_context(end) for end in socket.socketpair())
                # What the C libraries say must not reach the terminal: the screen is drawn there.
                log = undone.enter_context(tempfile.TemporaryFile("a+b"))
                halt = HaltFlag.new()
                undone.callback(halt.close)
                passed = [theirs.fileno(), halt.descriptor]
                self._process = subprocess.Popen(  # noqa: S603 - our own interpreter and module
                    [sys.executable, "-m", CHILD_MODULE, *map(str, passed)],
                    pass_fds=passed,
                    stdin=subprocess.DEVNULL,
                    stdout=log,
                    stderr=log,
                    start_new_session=True,  # a closed terminal is the station's to handle
                )
                undone.pop_all()
        except OSError as error:
            raise audiofaults.not_launched(error) from error
        theirs.close()
        self._log = log
        self._halt = halt
        self._link = Link(ours)

    @property
    def pid(self) -> int:
        """Process id."""
        return self._process.pid

    def halt(self) -> None:
        """Silence the output from the next block on; returns at once."""
        self._halt.set()

    def allow(self) -> None:
        """Let the next run play."""
        self._halt.clear()

    def send(self, message: Message, samples: Samples = NO_SAMPLES) -> None:
        """Tell the child something; raise AudioError if it is gone or does not listen."""
        try:
            self._link.send(message, samples, limit_s=SEND_LIMIT_S)
        except TimeoutError as error:
            raise audiofaults.not_answering() from error
        except OSError as error:
            raise self._ended() from error

    def receive(self, limit_s: float) -> tuple[Message, Samples] | None:
        """Return what the child says within the limit, or None; raise AudioError if it is gone."""
        try:
            return self._link.receive(limit_s)
        except EOFError as error:
            raise self._ended() from error

    def devices(self, limit_s: float = START_LIMIT_S) -> tuple[DeviceInfo, ...]:
        """Wait until the child is ready and return the devices it has; raise AudioError."""
        match self.receive(limit_s):
            case (Ready() as ready, _):
                return ready.devices
            case (Fault() as fault, _):
                raise audiofaults.not_started(fault)
            case _:
                raise audiofaults.not_answering()

    def end(self) -> None:
        """Let the child fade out and leave; kill it if it does not."""
        self._link.close()
        try:
            self._process.wait(LEAVE_LIMIT_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._log.close()
        self._halt.close()

    def _ended(self) -> AudioError:
        error = audiofaults.ended()
        start = max(os.fstat(self._log.fileno()).st_size - LOG_TAIL_BYTES, 0)
        error.add_note(os.pread(self._log.fileno(), LOG_TAIL_BYTES, start).decode(errors="replace"))
        return error
