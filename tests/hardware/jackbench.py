"""A bench of JACK's dummy server and a speaker of impulse responses, for tests of real audio.

PortAudio lists every JACK client with ports as a device of the host API "JACK Audio Connection
Kit", named after the client, and connects a stream to exactly that client's ports. So the station
names the speaker itself as its device: its one output goes into the speaker, and the speaker's
rows of impulse responses come back as the inputs. What is measured is convolved exactly, later by
a whole number of periods.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from station.hardware.audio.portaudio import PortAudioDevice
from station.hardware.files.stationfile import AudioSettings
from station.hardware.protocols.audio import Capture
from station.hardware.protocols.clock import SystemClock

HOST_API = "JACK Audio Connection Kit"
SPEAKER = "bench speaker"
CLIENT_PROGRAM = Path(__file__).with_name("speaker_client.py")
START_LIMIT_S = 20
STOP_LIMIT_S = 1
CLEAN_ATTEMPTS = 5
SHARED_MEMORY = Path("/dev/shm")
JACK_SERVER_LIMIT = 8  # entries of JACK's registry (MAX_SERVERS of its shm.h, from memory)


class Server:
    """JACK's dummy server in non-realtime, synchronous mode, under a name of its own."""

    def __init__(self, jackd: str, name: str, rate_hz: float, period_frames: int) -> None:
        driver = ["-d", "dummy", "-r", f"{rate_hz:.0f}", "-p", str(period_frames)]
        self._name = name
        self._command = [jackd, "-n", name, "-r", "-S", *driver, "-C", "4", "-P", "2"]
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it and wait until it answers."""
        self._process = subprocess.Popen(
            self._command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        wait = ["jack_wait", "-w", "-t", str(START_LIMIT_S), "-s", self._name]
        subprocess.run(wait, check=True, capture_output=True, timeout=2 * START_LIMIT_S)

    def kill(self) -> None:
        """End it as a crash does."""
        assert self._process is not None
        self._process.kill()
        self._process.wait()

    def stop(self) -> None:
        """End it in order, or kill it where it waits for clients that a test killed."""
        if self._process is None:
            return
        self._process.terminate()
        try:
            self._process.wait(STOP_LIMIT_S)
        except subprocess.TimeoutExpired:
            self.kill()


class Speaker:
    """The process that filters what is played into it; see speaker_client.py."""

    def __init__(self, firs_path: Path) -> None:
        self._command = [sys.executable, str(CLIENT_PROGRAM), SPEAKER, str(firs_path)]
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it and wait until it runs."""
        self._process = subprocess.Popen(
            self._command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        assert self._answer() == b"ready\n"

    def freeze(self) -> None:
        """Let it miss every block until `thaw`."""
        assert self._process is not None
        self._process.send_signal(signal.SIGSTOP)

    def thaw(self) -> None:
        """Let it go on."""
        assert self._process is not None
        self._process.send_signal(signal.SIGCONT)

    def loudest(self) -> float:
        """Return the largest sample played into the speaker in the next few blocks."""
        assert self._process is not None
        assert self._process.stdin is not None
        self._process.stdin.write(b"\n")
        self._process.stdin.flush()
        return float(self._answer())

    def log(self) -> list[tuple[float, float, float]]:
        """Return time, peak and last sample of the latest blocks played into it."""
        assert self._process is not None
        assert self._process.stdin is not None
        self._process.stdin.write(b"log\n")
        self._process.stdin.flush()
        return [tuple(block) for block in json.loads(self._answer())]

    def forget(self) -> None:
        """Begin the log anew."""
        assert self._process is not None
        assert self._process.stdin is not None
        self._process.stdin.write(b"forget\n")
        self._process.stdin.flush()
        assert self._answer() == b"forgotten\n"

    def kill(self) -> None:
        """End it, as when a device is unplugged."""
        if self._process is not None:
            self._process.kill()
            self._process.communicate()
            self._process = None

    def stop(self) -> None:
        """End it in order."""
        if self._process is not None:
            self.thaw()
            self._process.communicate(timeout=START_LIMIT_S)
            self._process = None

    def _answer(self) -> bytes:
        assert self._process is not None
        assert self._process.stdout is not None
        return self._process.stdout.readline()


@dataclass(frozen=True)
class JackBench:
    """A running bench: what a station needs to use it, and the ways to break it."""

    settings: AudioSettings
    inputs: tuple[int, ...]
    server: Server
    speaker: Speaker

    def device(self, lock_folder: Path) -> PortAudioDevice:
        """Return the bench's audio device; the caller closes it."""
        return PortAudioDevice(
            self.settings, self.inputs, lock_folder=lock_folder, clock=SystemClock()
        )

    def station_text(self, full_scale_of: Mapping[str, float]) -> str:
        """Return a station file for this bench; roles are given in the order of the inputs."""
        audio = self.settings
        lines = [
            "format = 1",
            'name = "bench"',
            "microphone_distance_m = 1.0",
            "[audio]",
            *(
                f"{name} = {json.dumps(value)}"
                for name, value in audio.model_dump(exclude_none=True).items()
            ),
        ]
        for number, (role, full_scale) in zip(self.inputs, full_scale_of.items(), strict=True):
            lines += ["[[inputs]]", f"input = {number}", f'role = "{role}"']
            lines += [f"full_scale = {full_scale!r}"]
        return "\n".join(lines) + "\n"


@contextmanager
def jack_speaker(
    firs: NDArray[np.float64],
    folder: Path,
    *,
    jackd: str,
    rate_hz: float = 96_000.0,
    period_frames: int = 2048,
    output_full_scale_v: float = 20.0,
    silence_limit_s: float = 1.5,
) -> Iterator[JackBench]:
    """Run a bench whose input k hears the output convolved with row k of `firs`.

    `firs`, shape (n_inputs, taps), is relative to full scale on both sides: for a channel that
    reads in a unit, multiply its impulse response in unit per volt by output_full_scale_v and
    divide by the channel's full scale. The first tap is the sample that is played; the bench adds
    a whole number of periods, the same for all inputs and, for one stream, unchanging.
    """
    with pytest.MonkeyPatch.context() as environment, contextlib.ExitStack() as leaving:
        server_name = leaving.enter_context(claimed_server_name())
        environment.setenv("JACK_DEFAULT_SERVER", server_name)
        environment.setenv("JACK_NO_START_SERVER", "1")
        environment.setenv("JACK_NO_AUDIO_RESERVATION", "1")
        environment.setenv("OMP_NUM_THREADS", "1")
        leaving.callback(remove_traces, server_name)
        firs_path = folder / "firs.npy"
        np.save(firs_path, firs)
        server = Server(jackd, server_name, rate_hz, period_frames)
        leaving.callback(server.stop)
        server.start()
        speaker = Speaker(firs_path)
        leaving.callback(speaker.stop)
        speaker.start()
        settings = AudioSettings(
            device=SPEAKER,
            host_api=HOST_API,
            rate_hz=rate_hz,
            block_frames=period_frames,
            output=1,
            output_full_scale_v=output_full_scale_v,
            silence_limit_s=silence_limit_s,
        )
        yield JackBench(settings, tuple(range(1, len(firs) + 1)), server, speaker)


def clean_capture(device: PortAudioDevice, output: NDArray[np.float64]) -> Capture:
    """Return a capture without flags; like the station, repeat one that a busy computer spoilt."""
    for _attempt in range(CLEAN_ATTEMPTS):
        capture = device.play_and_record(output, on_meter=lambda _: None, stop=threading.Event())
        if not capture.flags:
            return capture
    raise AssertionError(f"{CLEAN_ATTEMPTS} captures in a row were spoilt: {capture.flags}")


@contextmanager
def claimed_server_name() -> Iterator[str]:
    """Keep one of a few names from every other process until left.

    A server that is killed stays in JACK's registry, which has room for a few, until another of
    the same name starts. So names are used again instead of being made up, and entries of
    names that nobody will use again go with the whole registry once no server lives.
    """
    with contextlib.ExitStack() as holding:
        for number in range(JACK_SERVER_LIMIT):
            name = f"bench-{number}"
            file = holding.enter_context(Path(tempfile.gettempdir(), f"{name}.lock").open("w"))
            with contextlib.suppress(BlockingIOError):
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
        else:
            raise AssertionError(f"{JACK_SERVER_LIMIT} benches run already")
        if not a_server_lives():
            remove_traces("")
        yield name


def a_server_lives() -> bool:
    """Say whether any JACK server runs on this computer."""
    for comm in Path("/proc").glob("[0-9]*/comm"):
        with contextlib.suppress(OSError):
            if comm.read_text().strip() == "jackd":
                return True
    return False


def remove_traces(server_name: str) -> None:
    """Remove what killed servers and clients leave in shared memory; of all servers for ""."""
    for path in SHARED_MEMORY.glob("jack*"):
        if server_name not in path.name:
            continue
        with contextlib.suppress(OSError):
            path.unlink()
