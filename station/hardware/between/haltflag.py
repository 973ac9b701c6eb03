"""One byte of memory that the station and its audio child share: set, the output falls silent.

A message waits in a queue until a thread reads it; the audio callback looks at this byte before
every block, so nothing can delay it but the block that plays.
"""

from __future__ import annotations

import mmap
import os

SIZE_BYTES = 1


class HaltFlag:
    """A flag in a memory file; whoever makes one closes it."""

    def __init__(self, descriptor: int) -> None:
        self.descriptor = descriptor
        self._memory = mmap.mmap(descriptor, SIZE_BYTES)

    @classmethod
    def new(cls) -> HaltFlag:
        """Return a flag that is not set, in memory of its own; raise OSError."""
        descriptor = os.memfd_create("station-halt")
        os.ftruncate(descriptor, SIZE_BYTES)
        return cls(descriptor)

    def set(self) -> None:
        """Ask for silence."""
        self._memory[0] = 1

    def clear(self) -> None:
        """Allow the next run to play."""
        self._memory[0] = 0

    def is_set(self) -> bool:
        """Return whether silence is asked for."""
        return self._memory[0] != 0

    def close(self) -> None:
        """Give this end back; the other end keeps its own."""
        self._memory.close()
        os.close(self.descriptor)
