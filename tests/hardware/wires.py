"""Serial ports without a port: a simulated device at the far end, and what the wire does to it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Protocol

from station.hardware.attached.serialfixture import SerialFixture
from station.hardware.files.serialtables import FixtureTable
from station.hardware.ports.conversation import Conversation, Party
from station.hardware.ports.serialport import PortLostError

FIXTURE = FixtureTable.model_validate(
    {
        "port": "/dev/nowhere",
        "baud": 115200,
        "answer_limit_s": 0.5,
        "tries": 2,
        "name": "line-1",
        "watch_interval_s": 0.05,
        "move_limit_s": 5.0,
        "start": "scan",
        "models": [
            {"model": "Tarn 2", "relays": 1},
            {"model": "Fell 60", "relays": 2, "bias": True, "unit_type": "F6"},
        ],
    }
)


class WireClock:
    """Time that passes only while somebody waits."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def utc_now(self) -> datetime:
        return datetime(2026, 1, 5, 6, 0, tzinfo=UTC)

    def monotonic_s(self) -> float:
        return self.now_s

    def wait(self, seconds: float) -> None:
        self.now_s += seconds


class Device(Protocol):
    def receive(self, data: bytes) -> bytes: ...


class Wire:
    """Implements Port; `mangled` is what the line makes of what the device sends.

    Each read takes `read_s` of time, or as long as it waits for nothing.
    """

    def __init__(
        self,
        device: Device,
        clock: WireClock,
        mangled: Callable[[bytes], bytes] = lambda sent: sent,
        read_s: float = 0.001,
    ) -> None:
        self.device = device
        self.clock = clock
        self.mangled = mangled
        self.read_s = read_s
        self.pending = b""
        self.unplugged = False
        self.opened = 0

    def open(self) -> Wire:
        if self.unplugged:
            raise PortLostError("no such device")
        self.opened += 1
        self.pending = b""
        return self

    def write(self, data: bytes) -> None:
        if self.unplugged:
            raise PortLostError("write to what is gone")
        self.pending += self.mangled(self.device.receive(data))

    def read(self, limit_s: float) -> bytes:
        if self.unplugged:
            raise PortLostError("read from what is gone")
        if not self.pending:
            self.clock.wait(limit_s)
            return b""
        self.clock.wait(min(self.read_s, limit_s))
        arrived, self.pending = self.pending, b""
        return arrived

    def close(self) -> None:
        pass


def fixture_on(wire: Wire, table: FixtureTable = FIXTURE) -> SerialFixture:
    return SerialFixture(table, wire.open, wire.clock)


def conversation_on(wire: Wire, tries: int = 2) -> Conversation:
    party = Party("fixture", "line-1", "/dev/nowhere", 0.5, tries)
    return Conversation(party, wire.open, wire.clock, lambda _words: None)
