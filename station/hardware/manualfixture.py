"""A bench without a fixture: the operator connects and disconnects the unit by hand."""

from __future__ import annotations


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

    def lid_closed(self) -> bool:
        """Return whether a unit was taken as connected and not released since."""
        return self._secured

    def release(self) -> None:
        """Take the unit as free to be disconnected."""
        self._secured = False
