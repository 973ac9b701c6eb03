"""A device belongs to one station at a time, and to nobody when that station dies."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from station.errors import AudioError, BusyError
from station.hardware.audio.devicelock import DeviceLock

HOLDER = """
import sys
from pathlib import Path
from station.hardware.audio.devicelock import DeviceLock
lock = DeviceLock(Path(sys.argv[1]), sys.argv[2])
print("held", flush=True)
sys.stdin.read()
"""


def test_a_second_station_is_told_who_holds_the_device(tmp_path: Path) -> None:
    lock = DeviceLock(tmp_path, "ALSA USB Audio")
    with pytest.raises(BusyError) as caught:
        DeviceLock(tmp_path, "ALSA USB Audio")
    assert f"(process {os.getpid()})" in caught.value.happened
    lock.release()


def test_a_released_device_can_be_taken_again(tmp_path: Path) -> None:
    DeviceLock(tmp_path, "ALSA USB Audio").release()
    DeviceLock(tmp_path, "ALSA USB Audio").release()


def test_devices_of_similar_names_do_not_block_each_other(tmp_path: Path) -> None:
    locks = [DeviceLock(tmp_path, name) for name in ("USB (1)", "USB [1]", "usb 1", "")]
    for lock in locks:
        lock.release()


def test_a_device_is_free_when_its_holder_was_killed(tmp_path: Path) -> None:
    command = [sys.executable, "-c", HOLDER, str(tmp_path), "ALSA USB Audio"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == b"held\n"
        with pytest.raises(BusyError, match=rf"\(process {holder.pid}\)"):
            DeviceLock(tmp_path, "ALSA USB Audio")
        holder.kill()
        holder.wait()
    DeviceLock(tmp_path, "ALSA USB Audio").release()


def test_the_lock_folder_is_made(tmp_path: Path) -> None:
    DeviceLock(tmp_path / "new" / "locks", "ALSA USB Audio").release()
    assert (tmp_path / "new" / "locks").is_dir()


def test_a_folder_that_cannot_be_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(AudioError, match="cannot be used: Not a directory"):
        DeviceLock(tmp_path / "file" / "locks", "ALSA USB Audio")
