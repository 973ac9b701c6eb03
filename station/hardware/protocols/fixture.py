"""The fixture that holds a unit, and the scanner that reads its label, as the cycle sees them."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Literal, Protocol

from station.errors import FixtureError

OnUnsafe = Callable[[FixtureError], None]
Lamp = Literal["off", "busy", "pass", "fail", "void", "station"]


class Fixture(Protocol):
    """Lid, clamp, relays, bias and lamps around the unit.

    Nothing here replaces the fixture's own interlock: it must open the relays and switch the bias
    off by itself when its lid opens or nobody talks to it. The station comes second.
    """

    def secure(self, serial: str, model: str) -> None:
        """Clamp the unit and connect it as its model needs; FixtureError if the lid is open."""

    def await_start(self, stop: threading.Event, on_waiting: Callable[[], None]) -> None:
        """Wait until the operator starts the test at the fixture, where it has a button for that.

        `on_waiting` is called first, if there is anything to wait for. Raises StoppedError if
        `stop` is set first, FixtureError if nobody starts in time.
        """

    def lid_closed(self) -> bool:
        """Return whether the lid is closed at this moment."""

    def check_closed(self) -> None:
        """Raise FixtureError if there is a lid and it is not known to be closed."""

    def watched(self, on_unsafe: OnUnsafe) -> AbstractContextManager[None]:
        """Watch over a sweep: say at once, from any thread, when it is no longer safe to play.

        Leaving looks once more, so that no opening of the lid meanwhile goes untold.
        """

    def bias_on_for_s(self) -> float | None:
        """Return how long this unit's bias has been on; None if the fixture does not switch it."""

    def fall_safe(self) -> None:
        """Switch bias and relays off at once, from any thread; the lid stays as it is.

        Set the run's `stop` first. Nothing is switched on again before the next `await_start`.
        """

    def show(self, lamp: Lamp) -> None:
        """Light one lamp; a fixture without lamps does nothing."""

    def release(self) -> None:
        """Disconnect and unclamp, so that the operator may open the lid.

        Raises FixtureError, and leaves the lid locked, if a bias is not known to have decayed.
        """


class Scanner(Protocol):
    """Where serial numbers come from."""

    def next_serial(self) -> str | None:
        """Wait for the next scanned serial number; None when there will be no more."""

    def end(self) -> None:
        """Let whoever waits go: there will be no more; from any thread."""
