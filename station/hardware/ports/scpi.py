"""An instrument that speaks SCPI over a serial line: IEEE 488.2 queries, SCPI-99 numbers.

Its answers carry neither number nor check sum. So the line is drained before every query, an
answer that something follows is thrown away, and after any failure the port is opened anew and
must fall silent first: a late answer to an earlier query must never pass for one to this.
"""

from __future__ import annotations

import re

from station.errors import FixtureError
from station.hardware.files.serialtables import AskedTable
from station.hardware.ports.linereader import LineReader
from station.hardware.ports.serialport import OpenPort, Port, PortLostError, gone
from station.hardware.protocols.clock import Clock

# IEEE 488.2 decimal numeric response data, NR1 to NR3.
NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?")
NOT_MEASURED = 9.9e37  # SCPI-99 vol. 1, 7.2.1.4 and .5: infinity; not a number is 9.91E37
LONGEST_ANSWER_BYTES = 256
QUIET_RATIO = 0.1  # of the answer's limit: so long nothing may follow an answer


class ScpiInstrument:
    """One instrument on one port; not safe for several threads at once."""

    def __init__(
        self, what: str, table: AskedTable, identity: str, open_port: OpenPort, clock: Clock
    ) -> None:
        self._what = what
        self._table = table
        self._identity = identity
        self._open_port = open_port
        self._clock = clock
        self._port: Port | None = None

    def number(self, query: str) -> float:
        """Return the number an instrument answers; raise FixtureError."""
        lost: PortLostError | None = None
        told = ""
        for _try in range(self._table.tries):
            try:
                told = self._answer(self._opened(), query)
            except PortLostError as error:
                lost = error
            else:
                lost = None
                if NUMBER.fullmatch(told):
                    return self._measured(float(told))
            self.close()
        if lost is not None:
            raise gone(self._what, self._table.port, str(lost)) from lost
        raise self._useless(told)

    def close(self) -> None:
        """Give the port back."""
        if self._port is not None:
            self._port.close()
            self._port = None

    def _opened(self) -> Port:
        if self._port is not None:
            return self._port
        self._port = self._open_port()
        self._drain(self._port, self._table.answer_limit_s)
        found = self._answer(self._port, "*IDN?")
        if self._identity not in found:
            self.close()
            raise FixtureError(
                f"On {self._table.port} there is no {self._what} "
                f'"{self._identity}"{f", but {found!r}" if found else "; nothing answers"}.',
                "Check that it is switched on and its cable, or correct port and identity.",
            )
        return self._port

    def _answer(self, port: Port, query: str) -> str:
        """Return the one line that answers a query; empty if there is none, or more than one."""
        self._drain(port, 0.0)
        port.write(query.encode("ascii") + b"\n")
        reader = LineReader(LONGEST_ANSWER_BYTES)
        deadline_s = self._clock.monotonic_s() + self._table.answer_limit_s
        while (left_s := deadline_s - self._clock.monotonic_s()) > 0.0:
            lines = list(reader.lines(port.read(left_s)))
            if lines:
                followed = port.read(QUIET_RATIO * self._table.answer_limit_s)
                alone = len(lines) == 1 and not followed
                text = lines[0].decode("ascii", "replace").strip()
                return text if alone and text.isprintable() else ""
        return ""

    def _drain(self, port: Port, quiet_s: float) -> None:
        """Throw away what comes until nothing has come for so long, but not for ever."""
        deadline_s = self._clock.monotonic_s() + 2.0 * self._table.answer_limit_s
        while port.read(quiet_s) and self._clock.monotonic_s() < deadline_s:
            continue

    def _measured(self, value: float) -> float:
        if abs(value) >= NOT_MEASURED:
            raise FixtureError(
                f"The {self._what} is overloaded or measures nothing.",
                "Check its range and its leads; touch nothing inside the fixture.",
            )
        return value

    def _useless(self, told: str) -> FixtureError:
        if not told:
            return FixtureError(
                f"The {self._what} on {self._table.port} does not answer as it should.",
                "Check that it is switched on, and its cable; touch nothing inside the fixture.",
            )
        return FixtureError(
            f"The {self._what} answers {told[:40]!r}, which is no number.",
            "Check its settings; touch nothing inside the fixture.",
        )
