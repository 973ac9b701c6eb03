"""A bench without a fixture: the operator connects and disconnects the unit by hand."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext

from station.hardware.protocols.fixture import Lamp, OnUnsafe


class ManualFixture:
    """Nothing moves and nothing is sensed: what it knows is what it was told.

    There is no lid, so there is no interlock either: this fixture must not be used with a model
    whose terminals are dangerous to touch, or where anything moves.
    """

    def __init__(self) -> None:
        self._secured = False

    def secure(self, serial: str, model: str) -> None:  # noqa: ARG002 - the same for every unit
        """Take the unit as connected: the operator scans it after connecting it."""
        self._secured = True

    def await_start(self, stop: threading.Event, on_waiting: Callable[[], None]) -> None:
        """Go on at once: the scan was the start."""

    def lid_closed(self) -> bool:
        """Return whether a unit was taken as connected and not released since."""
        return self._secured

    def check_closed(self) -> None:
        """Let everything play: there is no lid."""

    def watched(self, on_unsafe: OnUnsafe) -> AbstractContextManager[None]:  # noqa: ARG002 - nothing is sensed
        """Watch nothing."""
        return nullcontext()

    def bias_on_for_s(self) -> float | None:
        """Return that no bias is switched here."""
        return None

    def fall_safe(self) -> None:
        """Switch nothing: the operator's hands and the amplifier's switch are all there is."""

    def show(self, lamp: Lamp) -> None:
        """Show nothing."""

    def release(self) -> None:
        """Take the unit as free to be disconnected."""
        self._secured = False
