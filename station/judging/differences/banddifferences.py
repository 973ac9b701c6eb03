"""What moved between two tolerance bands, or two references, of the same reading, in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from station.analysis.arrays import FloatArray
from station.judging.differences.differencewords import change_words, unit_of_reading, value_words
from station.judging.tables.tables import BandTable, ReferenceTable
from station.judging.words.words import frequency_words

SIDES = ((1, "lower limit"), (2, "upper limit"))
LEAST = 1e-6  # in the reading's unit; what the files are written to is far coarser
MOST_STRETCHES = 4  # told one by one; more of them as their range
OTHER_FIELDS = ("scale", "offset_db", "forgive_octaves", "forgive_depth")


@dataclass(frozen=True, slots=True)
class Stretch:
    """Neighbouring breakpoints that moved by the same amount."""

    from_hz: float
    to_hz: float
    change: float


def band_changes(old: BandTable, new: BandTable) -> Iterator[str]:
    """Yield what moved, a sentence each; both bands are on the same reading."""
    unit = unit_of_reading(new.reading)
    ends = (old.points[0][0], old.points[-1][0]), (new.points[0][0], new.points[-1][0])
    for side, name in SIDES:
        was_open, is_open = (bool(np.isinf(band.points[0][side])) for band in (old, new))
        if was_open and is_open:
            continue
        if was_open or is_open:
            yield f"{new.reading}: {name} {'added' if was_open else 'taken away'}"
        else:
            yield from (
                f"{new.reading}: {name} {words}" for words in moved(stretches(old, new, side), unit)
            )
    for (before_hz, after_hz), word in zip(
        zip(*ends, strict=True), ("begins", "ends"), strict=True
    ):
        if before_hz != after_hz:
            yield (
                f"{new.reading}: band {word} at {frequency_words(after_hz)} "
                f"(before: {frequency_words(before_hz)})"
            )
    for field in OTHER_FIELDS:
        before, after = getattr(old, field), getattr(new, field)
        if before != after:
            name = field.removesuffix("_db").replace("_", " ")
            yield f"{new.reading}: {name} {value_words(before)} → {value_words(after)}"


def stretches(old: BandTable, new: BandTable, side: int) -> list[Stretch]:
    """Return where a side moved; between breakpoints both are linear over log frequency."""
    at_hz = np.unique([hz for band in (old, new) for hz, _, _ in band.points])
    first_hz = max(old.points[0][0], new.points[0][0])
    last_hz = min(old.points[-1][0], new.points[-1][0])
    at_hz = at_hz[(at_hz >= first_hz) & (at_hz <= last_hz)]
    if at_hz.size == 0:
        return []
    change = limit_at(new, side, at_hz) - limit_at(old, side, at_hz)
    rounded = np.round(change / LEAST) * LEAST
    found = []
    for amount, group in groupby(zip(at_hz, rounded, strict=True), key=lambda pair: pair[1]):
        members = [float(hz) for hz, _ in group]
        if abs(amount) > LEAST / 2.0:
            found.append(Stretch(members[0], members[-1], float(amount)))
    return found


def limit_at(band: BandTable, side: int, at_hz: FloatArray) -> FloatArray:
    """Return one side of a band at some frequencies."""
    log_hz = np.log([point[0] for point in band.points])
    return np.interp(np.log(at_hz), log_hz, [point[side] for point in band.points])


def moved(found: list[Stretch], unit: str) -> Iterator[str]:
    """Yield where and by how much a side moved."""
    if len(found) <= MOST_STRETCHES:
        for one in found:
            yield f"{place_words(one)} {change_words(one.change, unit)}"
        return
    most = max(found, key=lambda one: abs(one.change))
    amounts = [one.change for one in found]
    yield (
        f"from {frequency_words(found[0].from_hz)} to {frequency_words(found[-1].to_hz)} by "
        f"{change_words(min(amounts), unit)} to {change_words(max(amounts), unit)}, "
        f"most at {frequency_words(most.from_hz)}"
    )


def place_words(stretch: Stretch) -> str:
    """Return where a stretch lies."""
    if stretch.from_hz == stretch.to_hz:
        return f"at {frequency_words(stretch.from_hz)}"
    return f"from {frequency_words(stretch.from_hz)} to {frequency_words(stretch.to_hz)}"


def reference_changes(old: ReferenceTable | None, new: ReferenceTable | None) -> Iterator[str]:
    """Yield what changed of the reference unit's response."""
    if old is None or new is None:
        if old is not new:
            yield "reference: taken away" if new is None else f"reference: added, {new.unit}"
        return
    if old.unit != new.unit:
        yield f"reference: unit {value_words(old.unit)} → {value_words(new.unit)}"
    if old.hz != new.hz:
        yield "reference: at other frequencies"
        return
    level_db = np.subtract(new.db, old.db)
    phase_deg = (np.subtract(new.deg, old.deg) + 180.0) % 360.0 - 180.0
    for change, unit, name in ((level_db, "dB", "level"), (phase_deg, "°", "phase")):
        most = int(np.argmax(np.abs(change)))
        if abs(change[most]) > LEAST:
            words = change_words(float(change[most]), unit)
            yield f"reference: {name} changed, most at {frequency_words(old.hz[most])} by {words}"
