"""The thermometer of the simulated station."""

from __future__ import annotations

from dataclasses import dataclass

ROOM_C = 21.5


@dataclass(slots=True)
class SimulatedThermometer:
    """Shows the temperature it was made with until somebody changes it; None if unplugged."""

    shown_c: float | None = ROOM_C

    def temperature_c(self) -> float | None:
        """Return what it shows."""
        return self.shown_c
