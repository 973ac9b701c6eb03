"""From tolerance limits to acceptance limits: each moved inside by its guard band."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.readings import Number
from station.judging.tables.decisiontables import UncertaintyTable
from station.judging.tables.tables import BandTable, LimitFile, NumberTable


def accepted_limits(limits: LimitFile, numbers: Mapping[str, Number]) -> LimitFile:
    """Return a limit file with its acceptance limits in place of its tolerance limits.

    A guard band moves breakpoints, so that whatever judges by a limit file judges by this one as
    it is; a band gets the breakpoints of its uncertainty besides its own. `numbers` of the run
    are needed for what takes its uncertainty from each recording; one that states none has no
    guard band here, and `judge` makes the run void.
    """
    decision = limits.decision
    if decision is None or decision.guard_factor == 0.0:
        return limits
    tables = {table.reading: table for table in decision.uncertainties}
    factor = decision.guard_factor
    bands = tuple(
        accepted_band(band, tables[band.reading], factor) if band.reading in tables else band
        for band in limits.bands
    )
    accepted = tuple(
        accepted_number(limit, factor * standard_uncertainty(tables[limit.reading], numbers))
        if limit.reading in tables
        else limit
        for limit in limits.numbers
    )
    return limits.model_copy(update={"bands": bands, "numbers": accepted})


def accepted_band(band: BandTable, table: UncertaintyTable, factor: float) -> BandTable:
    """Return a band whose limits lie inside by the guard band, exact between breakpoints too."""
    first_hz, last_hz = band.points[0][0], band.points[-1][0]
    between = [hz for hz, _ in table.points or () if first_hz < hz < last_hz]
    at_hz = np.unique([*(point[0] for point in band.points), *between])
    log_hz, known = np.log(at_hz), np.array(band.points)
    guard = factor * uncertainty_at(table, at_hz)
    sides = [
        known[0, column] + sign * guard  # open: infinite at every breakpoint
        if np.isinf(known[:, column]).all()
        else np.interp(log_hz, np.log(known[:, 0]), known[:, column]) + sign * guard
        for column, sign in ((1, 1.0), (2, -1.0))
    ]
    points = tuple(
        (float(hz), float(low), float(high)) for hz, low, high in zip(at_hz, *sides, strict=True)
    )
    return band.model_copy(update={"points": points})


def accepted_number(limit: NumberTable, guard: float) -> NumberTable:
    """Return a number's limits moved inside; one that is not finite moves nothing."""
    inside = guard if math.isfinite(guard) else 0.0
    return limit.model_copy(
        update={
            "lower": None if limit.lower is None else limit.lower + inside,
            "upper": None if limit.upper is None else limit.upper - inside,
        }
    )


def uncertainty_at(table: UncertaintyTable, frequency_hz: FloatArray) -> FloatArray:
    """Return the standard uncertainty of a curve, linear over log frequency between breakpoints."""
    if table.points is None:
        return np.full(frequency_hz.shape, table.standard)
    points = np.array(table.points)
    uncertainty: FloatArray = np.interp(np.log(frequency_hz), np.log(points[:, 0]), points[:, 1])
    return uncertainty


def standard_uncertainty(table: UncertaintyTable, numbers: Mapping[str, Number]) -> float:
    """Return the standard uncertainty of a number; NaN where the recording states none."""
    if not table.of_run:
        return math.nan if table.standard is None else table.standard
    number = numbers.get(table.reading)
    return math.nan if number is None else number.uncertainty


def crossing_of(limit: BandTable | NumberTable) -> float | None:
    """Return where acceptance limits leave nothing between them, None where they do not.

    Of a band it is a frequency in Hz; of a number it is NaN.
    """
    if isinstance(limit, BandTable):
        return next((hz for hz, low, high in limit.points if low >= high), None)
    if limit.lower is None or limit.upper is None or limit.lower < limit.upper:
        return None
    return math.nan
