"""A number that may still be settling fails a unit only when it stands still between two sweeps."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from station.analysis.readings import Readings
from station.judging.tables.tables import LimitFile, NumberTable
from station.judging.verdicts.verdict import Cause, Judgement, Verdict
from station.judging.words.words import quantity_words

ONCE_MORE = "This may still be settling: the sweep is played again to tell."
LEVELS = re.compile(r"response|sensitivity|level\..+|pattern\..+|thd|h[0-9]+")
CHANCE_SIGMAS = 5.0
WAIT = "Leave the unit switched on for a minute, then test it again."


def stood_still(
    judgement: Judgement, readings: Readings, earlier: Sequence[Readings], limits: LimitFile
) -> Judgement:
    """Return a fail as void while what fails moves, or nobody knows yet whether it does.

    `earlier` are the readings of those sweeps of the same scan that were void for this reason.
    """
    unsettled = [limit for limit in limits.numbers if fails_unsettled(limit, judgement)]
    if not unsettled:
        return judgement
    if not earlier:
        return void_of(judgement, unsettled[0].reading, ONCE_MORE, ONCE_MORE)
    for limit in unsettled:
        moved, by_chance = moved_since(earlier[-1], readings, limit.reading)
        if limit.settles_within is not None and abs(moved) > max(limit.settles_within, by_chance):
            unit = readings.numbers[limit.reading].unit
            happened = (
                f"{limit.reading} still moves, by {quantity_words(moved, unit)} "
                "from one sweep to the next."
            )
            return void_of(judgement, limit.reading, happened, WAIT)
    return judgement


def fails_unsettled(limit: NumberTable, judgement: Judgement) -> bool:
    """Return whether a number that may be settling fails a unit, and nothing but levels with it.

    What is not only too quiet but reversed, silent or of a wrong impedance will not settle.
    """
    if limit.settles_within is None or judgement.verdict is not Verdict.FAIL:
        return False
    names = {cause.reading for cause in judgement.causes}
    return limit.reading in names and all(LEVELS.fullmatch(name) for name in names)


def moved_since(before: Readings, now: Readings, reading: str) -> tuple[float, float]:
    """Return by how much a number moved, and how much of it noise may have done.

    A section that is silent for good reads as the noise does, each time otherwise.
    """
    if reading not in before.numbers or reading not in now.numbers:
        return 0.0, 0.0
    was, is_now = before.numbers[reading], now.numbers[reading]
    spreads = [spread for spread in (was.uncertainty, is_now.uncertainty) if math.isfinite(spread)]
    return is_now.value - was.value, CHANCE_SIGMAS * math.hypot(*spreads)


def void_of(judgement: Judgement, reading: str, happened: str, remedy: str) -> Judgement:
    """Return a fail as void."""
    cause = Cause(reading, "untrusted", math.nan, "", None, 0.0, happened, remedy)
    return Judgement(Verdict.VOID, (cause,), remedy, judgement.margins, judgement.bands)
