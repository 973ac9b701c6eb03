"""One station per audio device: a lock that the system frees when its holder dies."""

from __future__ import annotations

import fcntl
import hashlib
import os
import re
from pathlib import Path

from station.errors import AudioError, BusyError

SLUG_LENGTH = 40


class DeviceLock:
    """Held from when it is made until `release`; raises BusyError if another holds it.

    Parameters
    ----------
    folder : Path
        Where lock files live, the same for all stations of a computer; made if missing.
    device : str
        Whole name of the device.

    Raises
    ------
    BusyError
        If another station, in this process or another, holds the device.
    AudioError
        If the folder or the file cannot be used.
    """

    def __init__(self, folder: Path, device: str) -> None:
        self.device = device
        path = folder / file_name(device)
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        except OSError as error:
            raise AudioError(
                f"The lock file {path} cannot be used: {error.strerror}.",
                "Check the folder and its permissions.",
            ) from error
        try:
            fcntl.flock(self._descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            holder = os.pread(self._descriptor, 20, 0).decode(errors="replace").strip()
            os.close(self._descriptor)
            raise BusyError(
                f'Another station uses the audio device "{device}" (process {holder}).',
                "Close that station, then start again.",
            ) from error
        # The file stays when the lock is freed: removing it would let two stations lock two files.
        os.ftruncate(self._descriptor, 0)
        os.pwrite(self._descriptor, f"{os.getpid()}\n".encode(), 0)

    def release(self) -> None:
        """Free the device."""
        os.close(self._descriptor)


def file_name(device: str) -> str:
    """Return a file name that is readable and different for every device."""
    slug = re.sub(r"[^a-z0-9]+", "-", device.casefold()).strip("-")[:SLUG_LENGTH]
    return f"{slug}-{hashlib.sha256(device.encode()).hexdigest()[:12]}.lock"
