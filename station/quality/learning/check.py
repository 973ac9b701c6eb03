"""What learnt limits do to good units that took no part in learning them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.judging.tables.tables import LimitFile
from station.quality.judged.manyunits import FAIL, judged_units
from station.quality.learning.learn import FEWEST_UNITS, LearningRule, learned_limits, with_learned
from station.records.columns.columns import Columns, RowNumbers

PARTS = 5
ENOUGH = 2 * FEWEST_UNITS


@dataclass(frozen=True, slots=True)
class HeldBack:
    """How many units were judged by limits learned without them, and how many failed."""

    units: int
    failed: int


def held_back(
    units: Columns, limits: LimitFile, rule: LearningRule, members: RowNumbers
) -> HeldBack | None:
    """Return how good units fare, each judged by limits that four fifths of them made.

    None where there are too few to hold any back.
    """
    if members.size < ENOUGH:
        return None
    part = np.arange(members.size) % PARTS
    failed = 0
    for out in range(PARTS):
        learned = learned_limits(units, limits, rule, members[part != out])
        draft = with_learned(limits, learned)
        failed += int(np.sum(judged_units(units.taken(members[part == out]), draft).codes == FAIL))
    return HeldBack(int(members.size), failed)
