"""What the microphone says of the parts: reversed sections, and what rubs, buzzes, leaks or arcs.

How likely each observation is under each explanation; the rule is our own.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from station.analysis.acoustic.rubcause import CauseName
from station.analysis.readings import Readings
from station.diagnosis.named.suspect import Found
from station.judging.verdicts.rubwords import RUB
from station.judging.verdicts.verdict import Judgement

REVERSED_BELOW = -0.5  # halfway between silent and reversed
SURE_SQUARED = 28.0  # -2 ln of one in a million: a section does not turn by itself
# -2 ln of one in a thousand: what is measured electrically does not rub as well, unless there are
# two faults, or the cause of the rub was not recognised.
UNRELATED_SQUARED = 14.0
RUBS: Mapping[CauseName, Found] = {
    "coil_rub": Found.COIL_RUB,
    "loose_part": Found.LOOSE,
    "air_leak": Found.LEAK,
    "panel_arcing": Found.ARCING,
}
ONLY_HEARD = (Found.COIL_RUB, Found.LOOSE, Found.ARCING)
PREFIX_POLARITY, PREFIX_CAUSE, PREFIX_LEVEL = "polarity.", "rub_cause.", "level."


@dataclass(frozen=True, slots=True)
class Heard:
    """What was heard of a unit.

    `reversed_sections` are sections whose sound is turned round; `rub` holds the chance of each
    cause where rub or buzz fails, and is empty where it does not.
    """

    reversed_sections: frozenset[str] = frozenset()
    sections: frozenset[str] = frozenset()
    rub: Mapping[Found, float] = field(default_factory=dict)

    def away(self, found: Found, sections: frozenset[str]) -> float:
        """Return -2 ln of how likely all this is if a part is at fault in some way.

        `sections` are those whose leads are reversed then.
        """
        turned = SURE_SQUARED * len(self.reversed_sections ^ sections)
        return turned + self.rub_away(found)

    def away_if_good(self) -> float:
        """Return -2 ln of how likely all this is of a good unit."""
        return SURE_SQUARED * (len(self.reversed_sections) + bool(self.rub))

    def rub_away(self, found: Found) -> float:
        """Return -2 ln of how likely what rubs is."""
        if not self.rub:
            return UNRELATED_SQUARED if found in ONLY_HEARD else 0.0
        related = {Found.TORN: Found.LEAK}.get(found, found)
        chance = self.rub.get(related, 0.0)
        return min(-2.0 * math.log(max(chance, 1e-12)), UNRELATED_SQUARED)


def heard_of(readings: Readings, judgement: Judgement | None) -> Heard:
    """Return what was heard of a unit."""
    polarity = {
        name.removeprefix(PREFIX_POLARITY): number.value
        for name, number in readings.numbers.items()
        if name.startswith(PREFIX_POLARITY)
    }
    turned = frozenset(name for name, value in polarity.items() if value < REVERSED_BELOW)
    rub: dict[Found, float] = {}
    if judgement is not None and any(cause.reading in RUB for cause in judgement.causes):
        for cause, found in RUBS.items():
            number = readings.numbers.get(f"{PREFIX_CAUSE}{cause}")
            rub[found] = number.value if number is not None else 1.0 / len(RUBS)
    return Heard(turned, frozenset(polarity), rub)


def level_of(readings: Readings, section: str) -> float:
    """Return a section's level against the reference unit's; NaN where it was not measured."""
    number = readings.numbers.get(f"{PREFIX_LEVEL}{section}")
    return math.nan if number is None else number.value
