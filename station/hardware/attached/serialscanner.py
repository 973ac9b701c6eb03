"""A label scanner on a serial port; one that types like a keyboard needs nothing of this."""

from __future__ import annotations

import re
import threading

from station.errors import FixtureError
from station.hardware.ports.serialport import OpenPort, Port, PortLostError

LISTEN_S = 0.25
AGAIN_S = 1.0  # between two attempts to open a port that is gone
LONGEST_BYTES = 256
ENDS = re.compile(rb"[\r\n]+")


class SerialScanner:
    """Implements Scanner: a label is what comes before a carriage return or a line feed.

    What stays without an end until nothing has come for a while was no label; it is dropped, so
    that it is not put before the next one. A scanner that is unplugged is waited for.
    """

    def __init__(self, open_port: OpenPort) -> None:
        self._open_port = open_port
        self._over = threading.Event()
        self._port: Port | None = None
        self._come = b""
        self._labels: list[str] = []

    def check(self) -> None:
        """Open the port; raise FixtureError if that fails."""
        try:
            self._opened()
        except PortLostError as error:
            raise FixtureError(
                "The serial port of the scanner cannot be used.",
                "Plug it in, or correct [scanner] in the station file.",
            ) from error

    def next_serial(self) -> str | None:
        """Wait for the next label; None after `end`."""
        while not self._over.is_set():
            if self._labels:
                return self._labels.pop(0)
            try:
                self._take(self._opened().read(LISTEN_S))
            except PortLostError:
                self.close()
                self._over.wait(AGAIN_S)
        self.close()
        return None

    def end(self) -> None:
        """Let whoever waits for a label go, and give the port back; from any thread."""
        self._over.set()

    def close(self) -> None:
        """Give the port back until the next label is waited for."""
        if self._port is not None:
            self._port.close()
            self._port = None
        self._come = b""

    def _opened(self) -> Port:
        if self._port is None:
            self._port = self._open_port()
        return self._port

    def _take(self, received: bytes) -> None:
        if not received:
            self._come = b""
            return
        *ended, self._come = ENDS.split(self._come + received)
        labels = [label.decode("utf-8", "replace") for label in ended if label]
        # One too long, or with bytes that make no sense, is handed on to be refused by name.
        self._labels += [label[:LONGEST_BYTES] for label in labels]
        self._come = self._come[-LONGEST_BYTES:]
