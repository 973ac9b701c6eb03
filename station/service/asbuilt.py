"""A unit now against itself as built: level and shape of its curves apart, and its numbers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from station.analysis.acoustic.pairmatch import pair_match
from station.analysis.readings import Curve, Readings
from station.cycle.stored.pairs import MatchedBand
from station.errors import NoSignalError
from station.judging.tables.servicetables import MatchTable
from station.judging.tables.tables import LimitFile

RESPONSE = "response"


@dataclass(frozen=True, slots=True)
class NumberChange:
    """A number as built and now."""

    name: str
    unit: str
    then: float
    now: float


@dataclass(frozen=True, slots=True, eq=False)
class ThenAndNow:
    """How a unit has changed since it was built.

    `bands` is empty, and `why_not` one sentence, where the responses cannot be compared. `within`
    is None unless the limit file says how far apart they may lie.
    """

    bands: tuple[MatchedBand, ...]
    numbers: tuple[NumberChange, ...]
    within: bool | None
    why_not: str = ""


def then_and_now(then: Readings, now: Readings, limits: LimitFile) -> ThenAndNow:
    """Return how readings have changed."""
    numbers = tuple(changes(then, now))
    first, second = then.curves.get(RESPONSE), now.curves.get(RESPONSE)
    if first is None or second is None:
        when = "as built" if first is None else "now"
        return ThenAndNow((), numbers, None, f"There is no response {when}.")
    if first.unit != second.unit:
        return ThenAndNow(
            (),
            numbers,
            None,
            f"The response was kept in {first.unit}, and is in {second.unit} now.",
        )
    try:
        bands = matched_bands(first, second, limits)
    except NoSignalError as error:
        return ThenAndNow((), numbers, None, error.happened)
    return ThenAndNow(bands, numbers, matches(bands, limits.as_built))


def matched_bands(first: Curve, second: Curve, limits: LimitFile) -> tuple[MatchedBand, ...]:
    """Return the match of two responses in the band of the sensitivity and in all they share.

    Raises
    ------
    NoSignalError
        If they share no frequencies, or one is not finite there.
    """
    frequency_hz, then_db, now_db = on_one_grid(first, second)
    spans = [(RESPONSE, float(frequency_hz[0]), float(frequency_hz[-1]))]
    sensitivity = limits.readings.sensitivity
    if sensitivity is not None:
        spans.insert(0, ("sensitivity", sensitivity.from_hz, sensitivity.to_hz))
    return tuple(
        MatchedBand(name, low, high, pair_match(frequency_hz, then_db, now_db, low, high))
        for name, low, high in spans
    )


def on_one_grid(first: Curve, second: Curve) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return two curves at the frequencies of the coarser one, where both reach.

    The finer one is interpolated over log frequency (common practice, no source).
    """
    if np.array_equal(first.frequency_hz, second.frequency_hz):
        return first.frequency_hz, first.values, second.values
    low = max(first.frequency_hz[0], second.frequency_hz[0])
    high = min(first.frequency_hz[-1], second.frequency_hz[-1])
    inside = [
        curve.frequency_hz[(curve.frequency_hz >= low) & (curve.frequency_hz <= high)]
        for curve in (first, second)
    ]
    grid_hz = min(inside, key=len)
    if grid_hz.size < 2:
        raise NoSignalError("The two responses share no frequencies.", "Compare other records.")
    at = np.log(grid_hz)
    first_db, second_db = (
        np.interp(at, np.log(curve.frequency_hz), curve.values) for curve in (first, second)
    )
    return grid_hz, first_db, second_db


def matches(bands: tuple[MatchedBand, ...], table: MatchTable | None) -> bool | None:
    """Return whether all bands lie within a limit file's table, None if it has none."""
    if table is None:
        return None
    return all(
        abs(band.match.level_db) <= table.level_db and band.match.shape_max_db <= table.shape_db
        for band in bands
    )


def changes(then: Readings, now: Readings) -> Iterator[NumberChange]:
    """Yield the numbers that are known of both, in the same unit."""
    for name, number in now.numbers.items():
        before = then.numbers.get(name)
        if before is not None and before.unit == number.unit:
            yield NumberChange(name, number.unit, before.value, number.value)
