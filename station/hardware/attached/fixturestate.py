"""What a fixture says of itself, checked word for word: half a state is none."""

from __future__ import annotations

from dataclasses import dataclass

from station.errors import FixtureError
from station.hardware.ports.conversation import Facts

NO_UNIT_TYPE = "-"
KEYS = frozenset({"lid", "openings", "clamp", "relays", "bias", "lock", "unit", "presses"})
MOVING = "moving"


@dataclass(frozen=True, slots=True)
class FixtureState:
    """The fixture at one moment.

    `openings` and `presses` count openings of the lid and presses of the start button since the
    fixture was switched on, so that one that nobody heard of shows all the same. `clamp` is on,
    off or moving. `unit_type` is what its sensor says of the place for the unit, `-` without one.
    """

    lid_closed: bool
    openings: int
    clamp: str
    relays: int
    bias_on: bool
    locked: bool
    unit_type: str
    presses: int


def state_of(facts: Facts) -> FixtureState:
    """Return the state that facts tell; raise FixtureError if they do not tell it whole."""
    lid, clamp = facts.get("lid"), facts.get("clamp")
    bias, lock = facts.get("bias"), facts.get("lock")
    counts = [facts.get(key, "") for key in ("openings", "relays", "presses")]
    if (
        set(facts) != KEYS
        or lid not in ("open", "closed")
        or clamp not in ("on", "off", MOVING)
        or not {bias, lock} <= {"on", "off"}
        or not all(count.isdecimal() for count in counts)
        or not facts["unit"]
    ):
        raise FixtureError(
            "The fixture tells its state in words the station does not know.",
            "Bring the fixture's program and the station to the same version.",
        )
    openings, relays, presses = map(int, counts)
    return FixtureState(
        lid == "closed", openings, str(clamp), relays, bias == "on", lock == "on",
        facts["unit"], presses,
    )  # fmt: skip
