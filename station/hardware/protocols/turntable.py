"""The turntable a unit stands on, as the cycle sees it."""

from __future__ import annotations

from typing import Protocol


class Turntable(Protocol):
    """Turns the unit; the microphone stays."""

    def turn_to(self, angle_deg: float) -> None:
        """Turn and return when it rests there; raise FixtureError."""

    def close(self) -> None:
        """Give it back."""
