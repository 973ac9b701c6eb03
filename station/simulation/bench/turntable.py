"""The turntable of the simulated station: it turns the unit that is in the fixture."""

from __future__ import annotations

from station.simulation.bench.fixture import SimulatedFixture


class SimulatedTurning:
    """Implements Turntable."""

    def __init__(self, fixture: SimulatedFixture) -> None:
        self._fixture = fixture

    def turn_to(self, angle_deg: float) -> None:
        """Turn the unit."""
        self._fixture.turn(angle_deg)

    def close(self) -> None:
        """Give nothing back."""
