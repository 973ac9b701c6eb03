"""The temperature a run is noted with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


class Thermometer(Protocol):
    """Something that knows how warm it is at the unit."""

    def temperature_c(self) -> float | None:
        """Return the temperature in °C, None if it is not known."""


@dataclass(frozen=True, slots=True)
class NotedTemperature:
    """No sensor: what a person or the station file said, None if nobody did."""

    noted_c: float | None = None

    def temperature_c(self) -> float | None:
        """Return what was said."""
        return self.noted_c
