"""What changed from one revision's limit file to the next, in words an engineer would use.

Every table is covered: those that decide most have words of their own, all others are compared
field by field, so that a table added to the schema later is told as well.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from station.judging.differences.banddifferences import band_changes, reference_changes
from station.judging.differences.differencewords import (
    change_words,
    label_and_unit,
    unit_of_reading,
    value_words,
)
from station.judging.tables.tables import AdviceTable, BandTable, LimitFile, NumberTable

OF_THE_HISTORY = ("revision", "author", "day", "reason")  # said of each revision anyway
WITH_OWN_WORDS = {"format", "bands", "numbers", "advice", "reference", "learned"}
ID_FIELDS = ("name", "reading", "section")


def changes_between(old: LimitFile, new: LimitFile) -> tuple[str, ...]:
    """Return every change that can decide something, a sentence each, in the file's order."""
    return (
        *table_changes("", plain(old), plain(new)),
        *reference_changes(old.reference, new.reference),
        *bands_changes(old.bands, new.bands),
        *numbers_changes(old.numbers, new.numbers),
        *advice_changes(old.advice, new.advice),
    )


def plain(limits: LimitFile) -> dict[str, Any]:
    """Return the tables that have no words of their own, as plain values."""
    contents = limits.model_dump(exclude=WITH_OWN_WORDS)
    for name in OF_THE_HISTORY:
        del contents["model"][name]
    return contents


def table_changes(place: str, old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[str]:
    """Yield what changed in a table and those inside it."""
    for key in dict.fromkeys((*old, *new)):
        before, after = old.get(key), new.get(key)
        if before != after:
            yield from value_changes(place, key, before, after)


def value_changes(place: str, key: str, before: Any, after: Any) -> Iterator[str]:
    """Yield what changed in one value, whatever it is."""
    inside = f"{place}.{key}" if place else key
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        yield from table_changes(inside, before, after)
    elif isinstance(before, Mapping) or isinstance(after, Mapping):
        yield f"{inside}: {'added' if before is None else 'taken away'}"
    elif (pairs := tables_by_id(before, after)) is not None:
        for name, (was, now) in pairs.items():
            yield from value_changes(inside, name, was, now)
    else:
        label, unit = label_and_unit(key)
        words = f"{label} {value_words(before, unit)} → {value_words(after, unit)}"
        yield f"{place}: {words}" if place else words


def tables_by_id(before: Any, after: Any) -> dict[str, tuple[Any, Any]] | None:
    """Return pairs of tables of two lists by what names them; None if they are no such lists."""
    both = [*(before or ()), *(after or ())] if is_list(before) and is_list(after) else []
    if not both or not all(isinstance(one, Mapping) for one in both):
        return None
    ids = next((field for field in ID_FIELDS if all(field in one for one in both)), None)
    if ids is None:
        return None
    was = {str(one[ids]): one for one in before or ()}
    now = {str(one[ids]): one for one in after or ()}
    return {
        name: (was.get(name), now.get(name))
        for name in dict.fromkeys((*was, *now))
        if was.get(name) != now.get(name)
    }


def is_list(value: Any) -> bool:
    """Return whether a value is a list of anything, or nothing where one may stand."""
    return value is None or isinstance(value, list | tuple)


def bands_changes(old: Sequence[BandTable], new: Sequence[BandTable]) -> Iterator[str]:
    """Yield what changed among the bands."""
    was, now = bands_by_place(old), bands_by_place(new)
    for place in dict.fromkeys((*was, *now)):
        reading, mode, _ = place
        if place not in now:
            yield f"{reading}: {mode} band taken away"
        elif place not in was:
            yield f"{reading}: {mode} band added"
        else:
            yield from band_changes(was[place], now[place])


def bands_by_place(bands: Sequence[BandTable]) -> dict[tuple[str, str, int], BandTable]:
    """Return bands by reading, mode, and which of several such it is."""
    found: dict[tuple[str, str, int], BandTable] = {}
    for band in bands:
        number = sum(place[:2] == (band.reading, band.mode) for place in found)
        found[band.reading, band.mode, number] = band
    return found


def numbers_changes(old: Sequence[NumberTable], new: Sequence[NumberTable]) -> Iterator[str]:
    """Yield what changed among the limits on numbers."""
    was = {table.reading: table for table in old}
    now = {table.reading: table for table in new}
    for reading in dict.fromkeys((*was, *now)):
        if reading not in now:
            yield f"{reading}: limits taken away"
        elif reading not in was:
            yield f"{reading}: limits added, {limits_words(now[reading])}"
        else:
            yield from number_changes(was[reading], now[reading])


def number_changes(old: NumberTable, new: NumberTable) -> Iterator[str]:
    """Yield what changed in the limits on one number."""
    unit = unit_of_reading(new.reading)
    for side in ("lower", "upper"):
        before, after = getattr(old, side), getattr(new, side)
        if before == after:
            continue
        words = f"{new.reading}: {side} limit {value_words(before, unit)} → "
        words += value_words(after, unit)
        if before is not None and after is not None:
            words += f" ({change_words(after - before, unit)})"
        yield words
    for field in ("scale", "absent"):
        before, after = getattr(old, field), getattr(new, field)
        if before != after:
            yield f"{new.reading}: {field} {value_words(before)} → {value_words(after)}"


def limits_words(table: NumberTable) -> str:
    """Return the limits on a number."""
    unit = unit_of_reading(table.reading)
    sides = (("from", table.lower), ("to", table.upper))
    return " ".join(f"{word} {value_words(v, unit)}" for word, v in sides if v is not None)


def advice_changes(old: Sequence[AdviceTable], new: Sequence[AdviceTable]) -> Iterator[str]:
    """Yield what changed among the pieces of advice; the first that fits is said."""
    was = {advice.say: advice for advice in old}
    now = {advice.say: advice for advice in new}
    for say in dict.fromkeys((*was, *now)):
        if say not in now:
            yield f"advice taken away: {value_words(say)}"
        elif say not in was:
            yield f"advice added: {value_words(say)}"
        elif was[say] != now[say]:
            yield f"advice said under other conditions: {value_words(say)}"
    kept_before = [say for say in was if say in now]
    if kept_before != [say for say in now if say in was]:
        yield "advice: in another order"
