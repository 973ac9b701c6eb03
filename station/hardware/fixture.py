"""The fixture that holds a unit, and the scanner that reads its label, as the cycle sees them."""

from __future__ import annotations

from typing import Protocol


class Fixture(Protocol):
    """Lid, clamp and relays around the unit."""

    def secure(self, serial: str, model: str) -> None:
        """Clamp the unit and connect it as its model needs; FixtureError if the lid is open."""

    def lid_closed(self) -> bool:
        """Return whether the lid is closed at this moment."""

    def release(self) -> None:
        """Disconnect and unclamp, so that the operator may open the lid."""


class Scanner(Protocol):
    """Where serial numbers come from."""

    def next_serial(self) -> str | None:
        """Wait for the next scanned serial number; None when there will be no more."""
