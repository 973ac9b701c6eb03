"""Small changes to one limit: a breakpoint moved, added or taken away, a number's limit moved."""

from __future__ import annotations

import math

from pydantic import ValidationError

from station.errors import RefusedInputError
from station.judging.tables.tables import BandTable, NumberTable
from station.quality.learning.factor import Sides
from station.quality.learning.points import power_of_ten_below

COLUMN = {Sides.LOWER: 1, Sides.UPPER: 2}
STEPS_PER_SCALE = 5.0
FREQUENCY_DIGITS = 5
NARROWEST_RATIO = 1.001  # between two breakpoints, for another one to stand between them

Point = tuple[float, float, float]


def step_of(limit: BandTable | NumberTable) -> float:
    """Return by how much a limit moves at a key press: a power of ten below its scale."""
    return power_of_ten_below(limit.scale / STEPS_PER_SCALE)


def is_open(limit: BandTable | NumberTable, side: Sides) -> bool:
    """Return whether there is no limit on a side."""
    if isinstance(limit, BandTable):
        return math.isinf(limit.points[0][COLUMN[side]])
    return (limit.lower if side is Sides.LOWER else limit.upper) is None


def moved_point(band: BandTable, index: int, side: Sides, by: float) -> BandTable:
    """Return a band with one breakpoint's limit moved; refuse limits that meet."""
    refuse_open(band, side)
    column = COLUMN[side]
    point = list(band.points[index])
    point[column] = tidy(point[column] + by)
    return with_points(band, (*band.points[:index], tuple(point), *band.points[index + 1 :]))


def added_point(band: BandTable, index: int) -> tuple[BandTable, int]:
    """Return a band with one more breakpoint, between one and the next, which changes nothing yet.

    Of the last breakpoint it goes before it. Also the place of the new one.
    """
    first = min(index, len(band.points) - 2)
    before, after = band.points[first], band.points[first + 1]
    if after[0] / before[0] < NARROWEST_RATIO:
        raise RefusedInputError("There is no room between these two.", "Choose another place.")
    hz = float(f"{math.sqrt(before[0] * after[0]):.{FREQUENCY_DIGITS}g}")
    part = math.log(hz / before[0]) / math.log(after[0] / before[0])
    sides = (
        low if math.isinf(low) else tidy(low + part * (high - low))
        for low, high in zip(before[1:], after[1:], strict=True)
    )
    points = (*band.points[: first + 1], (hz, *sides), *band.points[first + 1 :])
    return with_points(band, points), first + 1


def removed_point(band: BandTable, index: int) -> BandTable:
    """Return a band without one breakpoint; the ends stay, for they say where it holds."""
    if index in (0, len(band.points) - 1):
        raise RefusedInputError("The ends of a band stay.", "Choose a breakpoint between them.")
    return with_points(band, (*band.points[:index], *band.points[index + 1 :]))


def moved_number(limit: NumberTable, side: Sides, by: float) -> NumberTable:
    """Return a number with one limit moved; refuse limits that meet."""
    refuse_open(limit, side)
    name = side.value
    value = limit.lower if side is Sides.LOWER else limit.upper
    changed = limit.model_dump() | {name: tidy((value or 0.0) + by)}
    try:
        return NumberTable.model_validate(changed)
    except ValidationError as error:
        raise meeting() from error


def refuse_open(limit: BandTable | NumberTable, side: Sides) -> None:
    """Refuse to move what is not there."""
    if is_open(limit, side):
        raise RefusedInputError(f"There is no {side.value} limit here.", "Press Tab for the other.")


def with_points(band: BandTable, points: tuple[object, ...]) -> BandTable:
    """Return a band with other breakpoints; refuse those that no band can have."""
    try:
        return BandTable.model_validate(band.model_dump() | {"points": points})
    except ValidationError as error:
        raise meeting() from error


def meeting() -> RefusedInputError:
    """Return the refusal of limits that would meet."""
    return RefusedInputError("The limits would meet.", "Move the other one first.")


def tidy(value: float) -> float:
    """Return a value without the digits that adding steps leaves behind."""
    return float(f"{value:.10g}")
