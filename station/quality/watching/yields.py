"""How many units pass at once, and how many in the end."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time
from enum import StrEnum

from station.analysis.statistics.proportions import Proportion, proportion
from station.judging.verdicts.verdict import Verdict
from station.quality.watching.scans import Unit


class Period(StrEnum):
    """What yields are told for, one by one."""

    HOUR = "hour"
    DAY = "day"
    SHIFT = "shift"
    MODEL = "model"


@dataclass(frozen=True, slots=True)
class YieldRow:
    """One period's units; a unit counts where it was first tested.

    First pass: of the units that were decided, those whose first decided scan passed. In the end:
    those whose newest decided scan passed. `void` counts scans that ended void, `undecided` units
    that have nothing else.
    """

    name: str
    units: int
    first_pass: Proportion
    in_the_end: Proportion
    void: int
    undecided: int


def yield_rows(
    units: Sequence[Unit], period: Period, shift_starts: Sequence[time] = ()
) -> tuple[YieldRow, ...]:
    """Return a row for each period in the order they came; shifts need their starts (UTC)."""
    name_of = namer(period, shift_starts)
    groups: dict[str, list[Unit]] = {}
    for unit in units:
        groups.setdefault(name_of(unit), []).append(unit)
    return tuple(yield_row(name, of) for name, of in groups.items())


def yield_row(name: str, units: Sequence[Unit]) -> YieldRow:
    """Return the yields of some units."""
    decided = [unit.decided for unit in units if unit.decided]
    firsts = sum(scans[0].verdict is Verdict.PASS for scans in decided)
    ends = sum(scans[-1].verdict is Verdict.PASS for scans in decided)
    return YieldRow(
        name,
        len(units),
        proportion(firsts, len(decided)),
        proportion(ends, len(decided)),
        sum(scan.verdict is Verdict.VOID for unit in units for scan in unit.scans),
        len(units) - len(decided),
    )


def namer(period: Period, shift_starts: Sequence[time]) -> Callable[[Unit], str]:
    """Return what names a unit's period."""
    if period is Period.MODEL:
        return lambda unit: f"{unit.first.model} {unit.first.revision}"
    if period is Period.SHIFT:
        return lambda unit: shift_name(unit.first_utc, shift_starts)
    pattern = "%Y-%m-%d" if period is Period.DAY else "%Y-%m-%d %H:00"
    return lambda unit: unit.first_utc.astimezone(UTC).strftime(pattern)


def shift_name(instant: datetime, starts: Sequence[time]) -> str:
    """Return a shift by the day and time it began; what is before the first began the day before.

    >>> shift_name(datetime(2026, 11, 25, 3, 0, tzinfo=UTC), [time(6), time(14), time(22)])
    '2026-11-24 22:00'
    """
    utc = instant.astimezone(UTC)
    ordered = sorted(starts)
    begun = [start for start in ordered if start <= utc.time()]
    day = utc.date().toordinal() - (0 if begun else 1)
    start = begun[-1] if begun else ordered[-1]
    return f"{datetime.fromordinal(day):%Y-%m-%d} {start:%H:%M}"
