"""Limits learned from good units: how wide they must be to pass a stated share of fresh ones.

Which readings are judged, in which mode and on which sides, is what the limit file at hand says;
only the values are learned. The share that may fail is divided evenly among the limits, which is
safe however they depend on each other (Bonferroni).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from station.analysis.arrays import FloatArray
from station.errors import RefusedInputError
from station.judging.tables.tables import BandTable, LimitFile, NumberTable
from station.judging.words.words import frequency_words
from station.quality.learning.factor import (
    FOLDS,
    Sides,
    centre_and_spread,
    confidence_factor,
    fitted_deviation,
    held_out_deviations,
    largest_deviations,
)
from station.quality.learning.points import Breakpoint, enclosing_points, power_of_ten_below
from station.quality.learning.values import JudgedValues, readable_units, values_of
from station.records.columns.columns import Columns, RowNumbers

FEWEST_UNITS = 2 * FOLDS
MAD_TO_SIGMA = 1.4826  # of a normal distribution
FAR_OFF = 8.0  # robust deviations of the largest deviation: no good unit in a billion
OCTAVE_HALF = 0.5
NUMBER_DIVISIONS = 20.0  # of a number's width, for rounding
KEPT = ("polarity.", "impedance_margin")  # what a correlation or a standard says needs no spread


@dataclass(frozen=True, slots=True)
class LearningRule:
    """What limits must do, and how they may look.

    `coverage` is the share of fresh good units that must pass all of them, `confidence` how sure
    that must be; `slack` by how much of its half-width, in the mean over an octave, a band may
    lie beyond what was computed, to have few breakpoints; `at_least` the least half-width by
    reading, in its own unit; `kept` readings whose limits stay.
    """

    coverage: float
    confidence: float
    slack: float
    at_least: Mapping[str, float] = field(default_factory=dict)
    kept: frozenset[str] = frozenset()

    def keeps(self, reading: str) -> bool:
        """Return whether a reading's limits stay as they are."""
        return reading in self.kept or reading.startswith(KEPT)


@dataclass(frozen=True, slots=True)
class Learned:
    """One limit as it was learned: `place` is where it stands among its kind in the file."""

    reading: str
    place: int
    factor: float  # standard deviations on each side that counts
    widened: bool  # the least half-width was wider somewhere
    points: tuple[Breakpoint, ...] = ()  # of a band
    offset_db: float | None = None  # of a floating one
    lower: float | None = None  # of a number
    upper: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class LearnedLimits:
    """All that was learned, from which of the units, and which were set aside and why."""

    bands: tuple[Learned, ...]
    numbers: tuple[Learned, ...]
    members: RowNumbers
    set_aside: Mapping[int, str]


def learned_limits(
    units: Columns, limits: LimitFile, rule: LearningRule, rows: RowNumbers | None = None
) -> LearnedLimits:
    """Return limits learned from units, or from some of their rows.

    Raises
    ------
    RefusedInputError
        If there are too few units with all readings, or some reading does not vary.
    """
    readable = readable_units(units, limits)
    chosen = np.arange(units.count) if rows is None else rows
    set_aside = {int(row): "lacks a reading" for row in chosen[~readable[chosen]]}
    chosen = chosen[readable[chosen]]
    judged: list[BandTable | NumberTable] = [*limits.bands, *limits.numbers]
    wanted = [limit for limit in judged if not rule.keeps(limit.reading)]
    if not wanted:
        raise RefusedInputError(
            "There is no limit to learn.", "Name a limit file with more limits."
        )
    check_enough(chosen)
    set_aside |= far_off(units, chosen, wanted, limits)
    members = np.array([row for row in chosen if int(row) not in set_aside], dtype=np.intp)
    check_enough(members)
    floating = sum(isinstance(limit, BandTable) and limit.mode == "floating" for limit in wanted)
    share = (1.0 - rule.coverage) / (len(wanted) + floating)
    bands = tuple(
        learned_band(values_of(units, members, band, limits), place, rule, share)
        for place, band in enumerate(limits.bands)
        if not rule.keeps(band.reading)
    )
    numbers = tuple(
        learned_number(values_of(units, members, limit, limits), place, rule, share)
        for place, limit in enumerate(limits.numbers)
        if not rule.keeps(limit.reading)
    )
    return LearnedLimits(bands, numbers, members, set_aside)


def check_enough(rows: RowNumbers) -> None:
    """Refuse to learn from a handful of units."""
    if rows.size < FEWEST_UNITS:
        raise RefusedInputError(
            f"{rows.size} good units are too few to learn limits from.",
            f"Choose {FEWEST_UNITS} or more; 200 make good limits.",
        )


def far_off(
    units: Columns,
    rows: RowNumbers,
    wanted: Sequence[BandTable | NumberTable],
    limits: LimitFile,
) -> dict[int, str]:
    """Return units that are no part of the production, by what they are far off in.

    Centre and spread are median and median deviation here, which such units cannot move.
    """
    found: dict[int, str] = {}
    for limit in wanted:
        judged = values_of(units, rows, limit, limits)
        centre = np.median(judged.values, axis=0)
        spread = MAD_TO_SIGMA * np.median(np.abs(judged.values - centre), axis=0)
        check_varies(judged, spread)
        largest = largest_deviations(judged.values, centre, spread, judged.sides)
        middle = float(np.median(largest))
        beyond = FAR_OFF * MAD_TO_SIGMA * float(np.median(np.abs(largest - middle)))
        for place in np.flatnonzero(largest > middle + beyond):
            found.setdefault(int(rows[place]), f"{limit.reading} is far off all others")
    return found


def check_varies(judged: JudgedValues, spread: FloatArray) -> None:
    """Refuse a reading that is the same for most units somewhere: there is nothing to learn."""
    if np.all(spread > 0.0):
        return
    where = ""
    if judged.frequency_hz is not None:
        where = f" at {frequency_words(float(judged.frequency_hz[int(np.argmin(spread))]))}"
    raise RefusedInputError(
        f"{judged.reading} does not vary from unit to unit{where}.",
        f"Keep its limits as they are with --keep {judged.reading}.",
    )


def factor_of(values: FloatArray, sides: Sides, share: float, confidence: float) -> float:
    """Return how many standard deviations limits must lie off for a share to fail them."""
    largest = held_out_deviations(values, sides)
    fitted = fitted_deviation(largest, values.shape[1], sides)
    return fitted.deviation_beyond(share) * confidence_factor(values.shape[0], confidence)


def learned_band(judged: JudgedValues, place: int, rule: LearningRule, share: float) -> Learned:
    """Return a band around good units' curves."""
    if judged.frequency_hz is None:
        raise ValueError("a number has no band")
    factor = factor_of(judged.values, judged.sides, share, rule.confidence)
    centre, spread = centre_and_spread(judged.values)
    check_varies(judged, spread)
    least = rule.at_least.get(judged.reading, 0.0)
    reach = np.maximum(factor * spread, least)
    nothing = np.full(reach.size, np.inf)
    lower = -nothing if judged.sides is Sides.UPPER else centre - reach
    upper = nothing if judged.sides is Sides.LOWER else centre + reach
    room = rule.slack * mean_over_octave(judged.frequency_hz, reach)
    points = enclosing_points(judged.frequency_hz, lower, upper, room)
    offset_db = None
    if judged.level is not None:
        offset_db = largest_level(judged.level, rule, share)
    return Learned(
        judged.reading, place, factor, bool(np.any(reach > factor * spread)), points, offset_db
    )


def largest_level(level_db: FloatArray, rule: LearningRule, share: float) -> float:
    """Return how far a unit's level may lie off the reference, to either side."""
    factor = factor_of(level_db[:, None], Sides.BOTH, share, rule.confidence)
    centre, spread = centre_and_spread(level_db)
    furthest = float(abs(centre) + factor * spread)
    step = power_of_ten_below(furthest / NUMBER_DIVISIONS)
    return float(f"{np.ceil(furthest / step) * step:.12g}")


def learned_number(judged: JudgedValues, place: int, rule: LearningRule, share: float) -> Learned:
    """Return limits around good units' numbers, rounded outwards."""
    factor = factor_of(judged.values, judged.sides, share, rule.confidence)
    centre, spread = (float(found[0]) for found in centre_and_spread(judged.values))
    reach = max(factor * spread, rule.at_least.get(judged.reading, 0.0))
    step = power_of_ten_below(2.0 * reach / NUMBER_DIVISIONS)
    low = float(f"{np.floor((centre - reach) / step) * step:.12g}")
    high = float(f"{np.ceil((centre + reach) / step) * step:.12g}")
    return Learned(
        judged.reading, place, factor, reach > factor * spread,
        lower=None if judged.sides is Sides.UPPER else low,
        upper=None if judged.sides is Sides.LOWER else high,
    )  # fmt: skip


def mean_over_octave(frequency_hz: FloatArray, values: FloatArray) -> FloatArray:
    """Return the mean of values within half an octave to either side."""
    octave = np.log2(frequency_hz)
    near = np.abs(octave[:, None] - octave) <= OCTAVE_HALF
    mean: FloatArray = (near @ values) / near.sum(axis=1)
    return mean


def with_learned(limits: LimitFile, learned: LearnedLimits) -> LimitFile:
    """Return limits with the learned values in place of their own."""
    bands, numbers = list(limits.bands), list(limits.numbers)
    for band in learned.bands:
        points = tuple((point.hz, point.lower, point.upper) for point in band.points)
        floating = {} if band.offset_db is None else {"offset_db": band.offset_db}
        bands[band.place] = bands[band.place].model_copy(update={"points": points, **floating})
    for number in learned.numbers:
        ends = {"lower": number.lower, "upper": number.upper}
        numbers[number.place] = numbers[number.place].model_copy(update=ends)
    return limits.model_copy(update={"bands": tuple(bands), "numbers": tuple(numbers)})
