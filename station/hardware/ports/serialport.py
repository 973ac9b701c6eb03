"""A serial port as the drivers see it, and the real one.

Traps that pyserial leaves to its caller: a port whose device was unplugged raises from any call,
or reads nothing for ever; what was sent before the port was opened may still be in the buffer;
and nothing but a lock keeps a second program off the port.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any, Protocol

from station.errors import FixtureError

CHUNK_BYTES = 4096
WRITE_LIMIT_S = 1.0


class PortLostError(Exception):
    """The port cannot be opened or used; never leaves the drivers."""


class Port(Protocol):
    """Bytes out and in."""

    def write(self, data: bytes) -> None:
        """Send bytes; raise PortLostError."""

    def read(self, limit_s: float) -> bytes:
        """Return what arrives within the limit, at once when something does; raise PortLostError.

        Empty if nothing came.
        """

    def close(self) -> None:
        """Give the port back."""


OpenPort = Callable[[], Port]


class SerialPort:
    """A port of the operating system, eight bits, no parity, one stop bit."""

    def __init__(self, path: str, baud: int) -> None:
        import serial  # noqa: PLC0415 - only a station with a serial device needs it

        self._errors: tuple[type[Exception], ...] = (serial.SerialException, OSError)
        try:
            self._serial: Any = serial.Serial(
                path, baud, timeout=0, write_timeout=WRITE_LIMIT_S, exclusive=True
            )
            self._serial.reset_input_buffer()
        except (*self._errors, ValueError) as error:
            raise PortLostError(str(error)) from error

    def write(self, data: bytes) -> None:
        """Send bytes; raise PortLostError."""
        try:
            self._serial.write(data)
        except self._lost as error:
            raise PortLostError(str(error)) from error

    def read(self, limit_s: float) -> bytes:
        """Return what arrives within the limit, at once when something does."""
        try:
            self._serial.timeout = max(limit_s, 0.0)
            first: bytes = self._serial.read(1)
            if not first:
                return b""
            rest: bytes = self._serial.read(min(self._serial.in_waiting, CHUNK_BYTES))
        except self._lost as error:
            raise PortLostError(str(error)) from error
        return first + rest

    def close(self) -> None:
        """Give the port back; one that is gone already needs nothing."""
        try:
            self._serial.close()
        except self._lost:
            return

    @property
    def _lost(self) -> tuple[type[Exception], ...]:
        # After the device has gone, pyserial's own state may be torn down under a call of ours.
        return (*self._errors, TypeError, AttributeError)


def gone(what: str, port: str, why: str) -> FixtureError:
    """Return that a port cannot be used."""
    if not os.path.exists(port):  # noqa: PTH110 - the name of a device, not a path of ours
        return FixtureError(
            f"The {what} is not there: no serial port {port}.",
            "Plug in its cable and switch it on, or correct port in the station file "
            "('station doctor' lists the ports). It is found again by itself.",
        )
    error = FixtureError(
        f"The serial port {port} of the {what} cannot be used.",
        "Close other programs that use it, check its cable, then scan again.",
    )
    error.add_note(why)
    return error
