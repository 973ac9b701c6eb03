"""Lines out of a stream of bytes in which anything may stand."""

from __future__ import annotations

from collections.abc import Iterator

from station.hardware.ports.serialline import LONGEST_BYTES


class LineReader:
    """Cuts at line feeds; what grows too long to be a line is thrown away up to the next one.

    `heard_bytes` counts whatever came, understood or not.
    """

    def __init__(self, longest_bytes: int = LONGEST_BYTES) -> None:
        self.heard_bytes = 0
        self._longest_bytes = longest_bytes
        self._come = bytearray()
        self._too_long = False

    def lines(self, received: bytes) -> Iterator[bytes]:
        """Yield the lines that are complete now, without their line feeds."""
        self.heard_bytes += len(received)
        *ended, rest = received.split(b"\n")
        for piece in ended:
            self._come += piece
            if not self._too_long and len(self._come) < self._longest_bytes:
                yield bytes(self._come)
            self._come.clear()
            self._too_long = False
        self._come += rest
        self._drop_too_long()

    def forget_rest(self) -> None:
        """Throw away what has come of a line that did not end."""
        self._come.clear()
        self._too_long = False

    def _drop_too_long(self) -> None:
        if len(self._come) >= self._longest_bytes:
            self._come.clear()
            self._too_long = True
