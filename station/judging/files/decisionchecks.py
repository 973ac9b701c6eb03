"""What the table `[decision]` cannot see alone: the limits that its guard bands narrow."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import suppress

from pydantic import ValidationError

from station.judging.tables.acceptance import (
    accepted_band,
    accepted_number,
    crossing_of,
    standard_uncertainty,
)
from station.judging.tables.decisiontables import DecisionTable, UncertaintyTable
from station.judging.tables.rawtables import Contents, Faults, entries
from station.judging.tables.tables import BandTable, NumberTable


def faults_of_decision(contents: Contents) -> Faults:
    """Yield uncertainties of what has no limit, and guard bands that leave nothing to accept."""
    decision = contents.get("decision")
    if not isinstance(decision, dict):
        return
    try:
        factor = DecisionTable.model_validate(decision).guard_factor
    except ValidationError:
        return  # its own faults are reported already
    for index, entry in enumerate(entries(decision, "uncertainties")):
        table, place = UncertaintyTable.model_validate(entry), ("decision", "uncertainties", index)
        limits = [*limits_of(contents, "bands", table), *limits_of(contents, "numbers", table)]
        if not limits:
            yield (*place, "reading"), f"{table.reading!r} has no limit in this file"
        for limit in limits:
            is_band = isinstance(limit, BandTable)
            if is_band if table.of_run else table.points is not None and not is_band:
                kind, wrong = ("a curve", "of_run") if is_band else ("a number", "points")
                yield (*place, wrong), f"{table.reading} is {kind}, which has no {wrong}"
            elif not table.of_run and (crossing := crossing_of(accepted(limit, table, factor))):
                where = "" if math.isnan(crossing) else f" at {crossing:g} Hz"
                yield (*place, "reading"), f"its guard bands leave nothing to accept{where}"


def limits_of(
    contents: Contents, array: str, table: UncertaintyTable
) -> Iterator[BandTable | NumberTable]:
    """Yield the limits on a reading that are sound by themselves."""
    kind: type[BandTable | NumberTable] = BandTable if array == "bands" else NumberTable
    for entry in entries(contents, array):
        if entry.get("reading") == table.reading:
            with suppress(ValidationError):  # its own faults are reported already
                yield kind.model_validate(entry)


def accepted(
    limit: BandTable | NumberTable, table: UncertaintyTable, factor: float
) -> BandTable | NumberTable:
    """Return a limit with its acceptance limits."""
    if isinstance(limit, BandTable):
        return accepted_band(limit, table, factor)
    return accepted_number(limit, factor * standard_uncertainty(table, {}))
