from __future__ import annotations

from station.hardware.protocols.fixture import Scanner
from station.simulation.factory.scanner import SimulatedScanner


def test_labels_come_in_order_and_end_with_none() -> None:
    scanner: Scanner = SimulatedScanner(["T2A00001", "F6A00001"])
    assert [scanner.next_serial() for _ in range(4)] == ["T2A00001", "F6A00001", None, None]
