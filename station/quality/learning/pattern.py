"""The population behind a pattern distance, learned anew, with the distances of fresh units."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.gathering import PATTERN_NAMES
from station.analysis.statistics.pattern import pattern_distance
from station.analysis.statistics.population import FOLDS, pattern_model
from station.errors import RefusedInputError
from station.judging.files.patternfile import Pattern, frequencies_of
from station.judging.tables.tables import LimitFile
from station.quality.learning.values import usual_column
from station.records.columns.columns import Columns, NumberColumn


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
    distances[:, rows] = held_out_distances(frequency_hz, curves, names, explained_ratio)
    unstated, nothing = np.full(units.count, np.nan), np.zeros(units.count, dtype=np.bool_)
    columns = {
        name: NumberColumn("sigma", values, unstated, np.isfinite(values), nothing)
        for name, values in zip(PATTERN_NAMES, distances, strict=True)
    }
    return Pattern(curve, model), replace(units, numbers={**units.numbers, **columns})


def held_out_distances(
    frequency_hz: FloatArray, curves: FloatArray, names: tuple[str, ...], explained_ratio: float
) -> FloatArray:
    """Return each unit's distances from the population of the other tenths, shape (3, n)."""
    found = np.empty((len(PATTERN_NAMES), curves.shape[0]))
    part = np.arange(curves.shape[0]) % FOLDS
    for fold in range(FOLDS):
        kept = part != fold
        left = tuple(name for name, keep in zip(names, kept, strict=True) if keep)
        model = pattern_model(frequency_hz, curves[kept], left, explained_ratio)
        for row in np.flatnonzero(~kept):
            one = pattern_distance(model, frequency_hz, curves[row])
            found[:, row] = one.distance_sigma, one.mode_sigma, one.rest_sigma
    return found
