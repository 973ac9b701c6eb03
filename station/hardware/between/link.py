"""Messages with samples behind them, over a socket between the station and its audio child."""

from __future__ import annotations

import socket
import struct
import time

import numpy as np
from numpy.typing import NDArray

from station.hardware.between.messages import Message, decoded, encoded

Samples = NDArray[np.float32]

LENGTHS = struct.Struct("!QQ")  # bytes of the message, bytes of samples
CHUNK_BYTES = 1 << 20
NO_SAMPLES: Samples = np.zeros(0, dtype=np.float32)


class Link:
    """One end of the line; every wait has a limit unless it is None."""

    def __init__(self, end: socket.socket) -> None:
        self._end = end
        self._come = bytearray()

    def send(
        self, message: Message, samples: Samples = NO_SAMPLES, *, limit_s: float | None = None
    ) -> None:
        """Send a message; raise OSError if the other end is gone or does not listen in time."""
        text = encoded(message)
        self._end.settimeout(limit_s)
        self._end.sendall(LENGTHS.pack(len(text), samples.nbytes) + text)
        self._end.sendall(samples.tobytes())

    def receive(self, limit_s: float | None = None) -> tuple[Message, Samples] | None:
        """Return the next message, or None if it is not complete in time.

        What has come of it is kept for the next call. Raises EOFError if the other end is gone.
        """
        deadline_s = None if limit_s is None else time.monotonic() + limit_s
        while (received := self._complete()) is None:
            left_s = None if deadline_s is None else deadline_s - time.monotonic()
            if left_s is not None and left_s <= 0.0:
                return None
            self._end.settimeout(left_s)
            try:
                chunk = self._end.recv(CHUNK_BYTES)
            except TimeoutError:
                return None
            except ConnectionResetError:
                chunk = b""
            if not chunk:
                raise EOFError("the other end is gone")
            self._come += chunk
        return received

    def close(self) -> None:
        """Close this end; the other end sees it."""
        self._end.close()

    def _complete(self) -> tuple[Message, Samples] | None:
        if len(self._come) < LENGTHS.size:
            return None
        text_bytes, samples_bytes = LENGTHS.unpack_from(self._come)
        text_ends = LENGTHS.size + text_bytes
        ends = text_ends + samples_bytes
        if len(self._come) < ends:
            return None
        message = decoded(bytes(self._come[LENGTHS.size : text_ends]))
        samples = np.frombuffer(bytes(self._come[text_ends:ends]), dtype=np.float32)
        del self._come[:ends]
        return message, samples
