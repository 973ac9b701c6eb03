"""Who uses a logs folder: many at once, but whoever sets its database aside is alone.

The locks are the system's own, which it frees when their holder dies.
"""

from __future__ import annotations

import fcntl
import os
from pathlib import Path


class Hold:
    """A logs folder in use from when this is made until `release`; waits while it is being mended.

    Raises
    ------
    OSError
        If the folder cannot be opened.
    """

    def __init__(self, folder: Path) -> None:
        self._handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        fcntl.flock(self._handle, fcntl.LOCK_SH)

    def alone(self) -> bool:
        """Keep everybody else out, and return True; return False if somebody else is in."""
        try:
            fcntl.flock(self._handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            self.shared()  # the system may have taken it away in trying
            return False
        return True

    def shared(self) -> None:
        """Let others in again."""
        fcntl.flock(self._handle, fcntl.LOCK_SH)

    def release(self) -> None:
        """Leave the folder."""
        os.close(self._handle)
