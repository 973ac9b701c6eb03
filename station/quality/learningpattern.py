"""The population behind a pattern distance, learned anew, with the distances of fresh units."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from station.analysis.gathering import PATTERN_NAMES
from station.analysis.statistics.pattern import pattern_distance
from station.analysis.statistics.population import FOLDS, pattern_model
from station.errors import RefusedInputError
from station.judging.patternfile import Pattern, frequencies_of
from station.judging.tables import LimitFile
from station.quality.learningvalues import usual_column
from station.records.columns import Columns, NumberColumn


def learned_population(
    units: Columns,
    serials: tuple[str, ...],
    limits: LimitFile,
    curve: str,
    explained_ratio: float,
) -> tuple[Pattern, Columns]:
    """Return a population, and the units' readings with their distances from it.

    The distance of each member is that from a population of the members in other tenths: a unit
    lies nearer to a population it is part of than a fresh one does.

    Raises
    ------
    RefusedInputError
        If the curve is not read, or the units are too few for how they vary.
    """
    column = usual_column(units, curve)
    frequency_hz = frequencies_of(limits.readings, curve)
    if (
        column is None
        or frequency_hz is None
        or not np.array_equal(column.frequency_hz, frequency_hz)
    ):
        raise RefusedInputError(
            f"The units have no curve {curve!r} as the limit file reads it.",
            "Name a curve that it computes, or read the recordings anew.",
        )
    rows = np.flatnonzero(column.there & np.isfinite(column.values).all(axis=1))
    curves = column.values[rows].astype(np.float64)
    names = tuple(serials[row] for row in rows)
    model = pattern_model(frequency_hz, curves, names, explained_ratio)
    distances = np.full((len(PATTERN_NAMES), units.count), np.nan)
    part = np.arange(rows.size) % FOLDS
    for fold in range(FOLDS):
        kept = part != fold
        left = pattern_model(
            frequency_hz,
            curves[kept],
            tuple(name for name, keep in zip(names, kept, strict=True) if keep),
            explained_ratio,
        )
        for row, values in zip(rows[~kept], curves[~kept], strict=True):
            found = pattern_distance(left, frequency_hz, values)
            distances[:, row] = found.distance_sigma, found.mode_sigma, found.rest_sigma
    unstated, nothing = np.full(units.count, np.nan), np.zeros(units.count, dtype=np.bool_)
    columns = {
        name: NumberColumn("sigma", values, unstated, np.isfinite(values), nothing)
        for name, values in zip(PATTERN_NAMES, distances, strict=True)
    }
    return Pattern(curve, model), replace(units, numbers={**units.numbers, **columns})
