"""The audio child starts, fails and leaves in ways the station can tell."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from station.errors import AudioError
from station.hardware.audio.audiochild import START_LIMIT_S, AudioChild
from station.hardware.audio.devices import list_devices
from station.hardware.between.messages import Stop

LEAVE_LIMIT_S = 20.0

HANGS = "import threading; threading.Event().wait()"
PARENT = """
import sys
from station.hardware.audio.audiochild import AudioChild
child = AudioChild()
child.devices()
print(child.pid, flush=True)
sys.stdin.read()
"""


def put_in_place_of_sounddevice(text: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the child import this instead of the real module."""
    (folder / "sounddevice.py").write_text(text, encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(folder))


def is_over(descriptor: int) -> bool:
    """Return whether the process behind a pidfd ends within the limit."""
    poll = select.poll()
    poll.register(descriptor, select.POLLIN)
    return bool(poll.poll(LEAVE_LIMIT_S * 1000.0))


def test_a_missing_portaudio_library_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = "raise OSError('PortAudio library not found')"
    put_in_place_of_sounddevice(text, tmp_path, monkeypatch)
    with pytest.raises(AudioError, match="apt install libportaudio2") as caught:
        list_devices()
    assert caught.value.__notes__ == ["PortAudio library not found"]


def test_a_missing_python_package_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = "raise ModuleNotFoundError('No module named sounddevice')"
    put_in_place_of_sounddevice(text, tmp_path, monkeypatch)
    with pytest.raises(AudioError, match="package sounddevice is not installed"):
        list_devices()


def test_an_audio_system_that_crashes_at_its_start_is_told_with_its_last_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = "import os; os.write(2, b'assertion failed'); os._exit(134)"
    put_in_place_of_sounddevice(text, tmp_path, monkeypatch)
    with pytest.raises(AudioError, match="ended unexpectedly") as caught:
        list_devices()
    assert "assertion failed" in caught.value.__notes__[0]


def test_an_audio_system_that_hangs_at_its_start_is_told_within_the_limit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_in_place_of_sounddevice(HANGS, tmp_path, monkeypatch)
    with pytest.raises(AudioError, match="does not answer"):
        list_devices(limit_s=0.1)


def test_a_child_that_does_not_leave_is_killed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_in_place_of_sounddevice(HANGS, tmp_path, monkeypatch)
    child = AudioChild()
    os.kill(child.pid, signal.SIGSTOP)
    descriptor = os.pidfd_open(child.pid)
    child.end()
    assert is_over(descriptor)
    os.close(descriptor)


def test_a_child_that_died_is_told_when_it_is_spoken_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_in_place_of_sounddevice("raise SystemExit", tmp_path, monkeypatch)
    child = AudioChild()
    descriptor = os.pidfd_open(child.pid)
    assert is_over(descriptor)
    os.close(descriptor)
    with pytest.raises(AudioError, match="ended unexpectedly"):
        child.send(Stop())
    with pytest.raises(AudioError, match="ended unexpectedly"):
        child.receive(START_LIMIT_S)
    child.end()


@pytest.mark.tools
@pytest.mark.usefixtures("portaudio")
def test_signals_of_the_terminal_are_left_to_the_station() -> None:
    child = AudioChild()
    child.devices()
    status = Path(f"/proc/{child.pid}/status").read_text(encoding="ascii")
    ignored = int(status.partition("SigIgn:")[2].split()[0], 16)
    assert ignored >> (signal.SIGINT - 1) & 1  # Ctrl-C
    assert os.getsid(child.pid) == child.pid  # a closed terminal
    child.end()


@pytest.mark.tools
@pytest.mark.usefixtures("portaudio")
def test_a_child_leaves_when_its_station_was_killed() -> None:
    command = [sys.executable, "-c", PARENT]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as parent:
        assert parent.stdout is not None
        descriptor = os.pidfd_open(int(parent.stdout.readline()))
        parent.kill()
    assert is_over(descriptor)
    os.close(descriptor)
