"""The thermometer of the simulated station."""

from __future__ import annotations

from station.simulation.bench.fixture import SimulatedFixture


class SimulatedThermometer:
    """Shows the temperature around the unit in the fixture; None if unplugged."""

    def __init__(
        self, fixture: SimulatedFixture, *, error_c: float = 0.0, unplugged: bool = False
    ) -> None:
        self.unplugged = unplugged
        self._fixture = fixture
        self._error_c = error_c

    def temperature_c(self) -> float | None:
        """Return what it shows."""
        return None if self.unplugged else self._fixture.conditions.temperature_c + self._error_c
