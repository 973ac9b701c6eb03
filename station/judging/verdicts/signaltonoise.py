"""Which limits a steady noise leaves nothing to say about, told by the silence before the sweep.

What each reading needs, for the margin that its own table states:

- A reading that can be too low (the response, and the levels, polarities, sensitivity, filter and
  pattern that are read from it) must stand above the noise where a good unit does: the noise is
  held against the lower limit or the reference, not against the unit. A section that is silent by
  its own fault is far below both, and fails; noise that would fill the gap does not let it pass.
- A reading that can only be too high (distortion, rub and buzz, idle noise and hum) is never
  untrue inside its limit, since noise can only add. Outside it must itself stand above what
  noise alone would have read.

What noise leaves alone is judged as ever: a unit that fails elsewhere fails.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.gathering import FILTER_NAMES, NOISE_PREFIX, PATTERN_NAMES
from station.analysis.plan import Reference
from station.analysis.readings import Curve, Number, Readings
from station.analysis.signals.levelcurves import power_mean_db
from station.judging.files.planning import reference_of_table
from station.judging.tables.readingtables import ReadingsTable
from station.judging.tables.tables import BandTable, LimitFile, NumberTable
from station.judging.verdicts.bands import BandResult, judged_points, reference_level_db
from station.judging.verdicts.verdict import Cause
from station.judging.words.words import frequency_words, quantity_words

WAIT = "Wait for quiet or close the fixture, then test again."
IDLE_NAMES = ("idle_noise", "hum")
DISTORTION = re.compile(r"thd|h[0-9]+")
SECTION = re.compile(r"(level|polarity)\.(.+)")


@dataclass(frozen=True, slots=True)
class Drowned:
    """A limit that noise leaves nothing to say about: where it is worst, and by how much.

    `of_good_unit` says that the ratio is that of a good unit, not of the one that was measured.
    """

    reading: str
    ratio_db: float
    needed_db: float
    at_hz: float | None
    of_good_unit: bool

    @property
    def cause(self) -> Cause:
        """It as the cause of a void."""
        whose = "of a good unit " if self.of_good_unit else ""
        where = "" if self.at_hz is None else f"at {frequency_words(self.at_hz)} "
        size = quantity_words(abs(self.ratio_db), "dB")
        stands = f"only {size} above" if self.ratio_db >= 0.0 else f"{size} below"
        happened = (
            f"The {self.reading} {whose}{where}is {stands} the noise; "
            f"{quantity_words(self.needed_db, 'dB')} above it are needed."
        )
        return Cause(self.reading, "untrusted", math.nan, "", self.at_hz, 0.0, happened, WAIT)


@dataclass(frozen=True, slots=True)
class Needed:
    """How far a reading must be above the noise, and under which name that noise was read."""

    noise: str
    margin_db: float


def needed_by(reading: str, readings: ReadingsTable) -> Needed | None:
    """Return what a reading needs, or None if noise does not touch it or nobody asked."""
    source, margin_db = reading, None
    if reading == "response" or is_from_response(reading, readings):
        source, margin_db = "response", readings.response.noise_margin_db
    elif DISTORTION.fullmatch(reading) and readings.distortion is not None:
        margin_db = readings.distortion.noise_margin_db
    elif reading == "rub" and readings.rub is not None:
        margin_db = readings.rub.noise_margin_db
    elif reading in IDLE_NAMES and readings.idle_noise is not None:
        margin_db = readings.idle_noise.noise_margin_db
    return None if margin_db is None else Needed(f"{NOISE_PREFIX}{source}", margin_db)


def is_from_response(reading: str, readings: ReadingsTable) -> bool:
    """Return whether a number is read from the response."""
    if reading in PATTERN_NAMES:
        return readings.pattern is not None and readings.pattern.curve == "response"
    return (
        reading == "sensitivity"
        or reading in FILTER_NAMES
        or SECTION.fullmatch(reading) is not None
    )


def without_drowned(
    result: BandResult, reading: str, noise: Curve, band: BandTable, margin_db: float
) -> tuple[BandResult, Drowned | None]:
    """Return a band's result with only those violations that stand above the noise."""
    applied = result.applied
    noise_db = noise.values[judged_points(noise, band)]
    hidden = np.isfinite(applied.lower) & (noise_db > applied.lower - margin_db)
    made = result.above & (applied.values - noise_db < margin_db)
    if not (hidden | made).any():
        return result, None
    below, above = result.below & ~hidden, result.above & ~made
    depth = np.where(below | above, result.depth, np.minimum(result.depth, 0.0))
    outside = (below | above).astype(np.float64)
    ratio_db = np.where(hidden, applied.lower, applied.values) - noise_db
    worst = int(np.argmin(np.where(hidden | made, ratio_db, np.inf)))
    drowned = Drowned(
        reading,
        float(ratio_db[worst]),
        margin_db,
        float(applied.frequency_hz[worst]),
        bool(hidden[worst]),
    )
    heard = replace(
        result, applied=replace(applied, outside=outside), depth=depth, below=below, above=above
    )
    return heard, drowned


def drowned_number(
    limit: NumberTable, number: Number, readings: Readings, limits: LimitFile
) -> Drowned | None:
    """Return why noise leaves nothing to say about a number, or None."""
    needed = needed_by(limit.reading, limits.readings)
    if needed is None:
        return None
    if limit.reading in IDLE_NAMES:
        ratio_db = number.value - readings.numbers[needed.noise].value
        outside = limit.upper is not None and number.value > limit.upper
        if not outside or ratio_db >= needed.margin_db:
            return None
        return Drowned(limit.reading, ratio_db, needed.margin_db, None, of_good_unit=False)
    noise = readings.curves[needed.noise]
    drowned = [
        Drowned(limit.reading, ratio_db, needed.margin_db, at_hz, of_good_unit=True)
        for ratio_db, at_hz in ratios(limit, noise, limits)
        if ratio_db < needed.margin_db
    ]
    return min(drowned, key=lambda each: each.ratio_db, default=None)


def ratios(
    limit: NumberTable, noise: Curve, limits: LimitFile
) -> Iterator[tuple[float, float | None]]:
    """Yield how far a good unit stands above the noise where a number is read from the response.

    What is a mean over a band needs it in the mean; filter and pattern need it at every point.
    """
    reading, learned = limit.reading, limits.learned
    if reading in PATTERN_NAMES:
        if learned is not None:
            yield from pointwise(noise.frequency_hz, learned.mean - noise.values)
        return
    span_hz = span_of(reading, limits.readings)
    inside = (noise.frequency_hz >= span_hz[0]) & (noise.frequency_hz <= span_hz[1])
    if not inside.any():
        return
    frequency_hz, noise_db = noise.frequency_hz[inside], noise.values[inside]
    good_db = good_level_db(limit, frequency_hz, limits)
    if good_db is None:
        return
    if reading in FILTER_NAMES:
        yield from pointwise(frequency_hz, good_db - noise_db)
        return
    weights = np.full(frequency_hz.size, 1.0 / frequency_hz.size)
    yield float(power_mean_db(good_db, weights) - power_mean_db(noise_db, weights)), None


def pointwise(
    frequency_hz: FloatArray, ratio_db: FloatArray
) -> Iterator[tuple[float, float | None]]:
    """Yield each point's ratio and frequency."""
    for hz, ratio in zip(frequency_hz, ratio_db, strict=True):
        yield float(ratio), float(hz)


def span_of(reading: str, readings: ReadingsTable) -> tuple[float, float]:
    """Return over which frequencies a number is read from the response."""
    if reading in FILTER_NAMES and readings.filter is not None:
        return readings.filter.span_hz
    table = readings.sensitivity
    if section := SECTION.fullmatch(reading):
        table = next((each for each in readings.sections if each.name == section[2]), None)
    return (math.inf, -math.inf) if table is None else (table.from_hz, table.to_hz)


def good_level_db(
    limit: NumberTable, frequency_hz: FloatArray, limits: LimitFile
) -> FloatArray | None:
    """Return the level that a good unit has, as far as the limit file tells."""
    if limits.reference is not None:
        reference: Reference = reference_of_table(limits.reference)
        return reference_level_db(reference, frequency_hz, limits.readings.response.for_v)
    if limit.reading == "sensitivity" and limit.lower is not None:
        return np.full(frequency_hz.size, limit.lower)
    return None
