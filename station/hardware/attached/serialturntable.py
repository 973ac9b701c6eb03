"""A turntable on a serial port.

Requests, as `serialline` describes: `HELLO` answers `turntable=NAME protocol=1`; `STATE` and
`TURN degrees` answer `angle=degrees moving=yes|no`; `HALT` stops at once and answers the same.
Degrees have one decimal; zero is the unit's axis towards the microphone, positive clockwise seen
from above.
"""

from __future__ import annotations

import math

from station.errors import FixtureError
from station.hardware.files.serialtables import TurntableTable
from station.hardware.ports.conversation import Conversation, Facts, Party
from station.hardware.ports.serialport import OpenPort
from station.hardware.protocols.clock import Clock

LOOK_S = 0.1
FARTHEST_DEG = 180.0


class SerialTurntable:
    """Implements Turntable."""

    def __init__(self, table: TurntableTable, open_port: OpenPort, clock: Clock) -> None:
        party = Party("turntable", table.name, table.port, table.answer_limit_s, table.tries)
        self._table = table
        self._clock = clock
        self._talk = Conversation(party, open_port, clock, ignore)

    def turn_to(self, angle_deg: float) -> None:
        """Turn and return when it rests there; raise FixtureError."""
        if not abs(angle_deg) <= FARTHEST_DEG:
            raise ValueError(f"need an angle of 180 degrees or less, got {angle_deg}")
        found_deg, moving = place_of(self._talk.ask("TURN", f"{angle_deg:.1f}"))
        deadline_s = self._clock.monotonic_s() + self._table.turn_limit_s
        while moving or abs(found_deg - angle_deg) > self._table.tolerance_deg:
            if self._clock.monotonic_s() > deadline_s:
                self._talk.ask("HALT")
                raise FixtureError(
                    f"The turntable rests at {found_deg:.1f}°, not at {angle_deg:.1f}°.",
                    "Check what blocks it, then scan again.",
                )
            self._clock.wait(LOOK_S)
            found_deg, moving = place_of(self._talk.ask("STATE"))

    def angle_deg(self) -> float:
        """Return where it is; raise FixtureError."""
        return place_of(self._talk.ask("STATE"))[0]

    def close(self) -> None:
        """Give the port back."""
        self._talk.close()


def place_of(facts: Facts) -> tuple[float, bool]:
    """Return angle and whether it moves; raise FixtureError if that was not said."""
    try:
        angle_deg = float(facts["angle"])
        moving = {"yes": True, "no": False}[facts["moving"]]
    except (KeyError, ValueError):
        angle_deg, moving = math.nan, True
    if not math.isfinite(angle_deg):
        raise FixtureError(
            "The turntable tells its place in words the station does not know.",
            "Bring the turntable's program and the station to the same version.",
        )
    return angle_deg, moving


def ignore(_words: tuple[str, ...]) -> None:
    """Take nothing from what a turntable says unasked."""
