"""The pattern distance of stored units from a draft's population: their curves are all it needs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.gathering import PATTERN_NAMES
from station.analysis.statistics.population import PatternModel
from station.judging.tables.tables import LimitFile
from station.records.columns.columns import Columns, NumberColumn

CHUNK = 4096


def with_pattern(units: Columns, limits: LimitFile) -> Columns:
    """Return units with their distance from a limit file's population, as it would be read.

    A unit whose curve was read on other frequencies, or has gaps, has none.
    """
    table, model = limits.readings.pattern, limits.learned
    if table is None or model is None:
        return units
    found = np.full((len(PATTERN_NAMES), units.count), np.nan)
    for column in units.curves.get(table.curve, ()):
        if not np.array_equal(column.frequency_hz, model.frequency_hz):
            continue
        rows = np.flatnonzero(column.there & np.isfinite(column.values).all(axis=1))
        for begin in range(0, rows.size, CHUNK):
            part = rows[begin : begin + CHUNK]
            found[:, part] = distances_sigma(model, column.values[part].astype(np.float64))
    unstated, nothing = np.full(units.count, np.nan), np.zeros(units.count, dtype=np.bool_)
    numbers = {
        name: NumberColumn("sigma", values, unstated, np.isfinite(values), nothing)
        for name, values in zip(PATTERN_NAMES, found, strict=True)
    }
    return replace(units, numbers={**units.numbers, **numbers})


def distances_sigma(model: PatternModel, values: FloatArray) -> FloatArray:
    """Return distance, share along the modes and rest of curves of shape (n, m), shape (3, n).

    As `analysis.statistics.pattern.pattern_distance`, whose formulas these are, curve by curve.
    """
    members = len(model.member_ids)
    offset = values - model.mean
    scores = offset @ model.modes.T
    mode_square = np.mean((scores / model.mode_spread) ** 2, axis=1)
    rest = (offset - scores @ model.modes) / model.rest_spread
    rest_square = np.mean(rest**2, axis=1) * (members - 2.0) / members
    return np.sqrt([0.5 * (mode_square + rest_square), mode_square, rest_square])
