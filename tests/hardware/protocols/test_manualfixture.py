"""A bench without a fixture keeps what it was told."""

from __future__ import annotations

from station.hardware.protocols.fixture import Fixture
from station.hardware.protocols.manualfixture import ManualFixture


def test_a_unit_counts_as_connected_from_its_scan_to_its_release() -> None:
    fixture: Fixture = ManualFixture()
    assert not fixture.lid_closed()
    fixture.secure("T2A00001", "Tarn 2")
    assert fixture.lid_closed()
    fixture.release()
    assert not fixture.lid_closed()
