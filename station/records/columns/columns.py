"""The readings of many runs side by side: one column per number, one table per curve."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from station.analysis.arrays import FloatArray
from station.analysis.readings import Curve, Number, Readings

BoolArray: TypeAlias = NDArray[np.bool_]
SingleArray: TypeAlias = NDArray[np.float32]
RowNumbers: TypeAlias = NDArray[np.intp]

NOT_KEPT = ("The reading was missing.", "The run itself tells why.")


@dataclass(frozen=True, slots=True, eq=False)
class NumberColumn:
    """One number of every run, shape (n,): NaN where a run has none.

    `uncertainties` are those that recordings state, NaN where they state none. `there` says which
    runs have it, finite or not; `missing` which runs say why they have not.
    """

    unit: str
    values: FloatArray
    uncertainties: FloatArray
    there: BoolArray
    missing: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class CurveColumn:
    """One curve of every run on one frequency grid: `values` has the shape (n, m).

    Single precision, as the log keeps curves; NaN, and `there` false, where a run has not read
    this curve on this grid.
    """

    unit: str
    frequency_hz: FloatArray
    values: SingleArray
    there: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """The readings of `count` runs; a curve has one column for each grid it was read on."""

    count: int
    numbers: Mapping[str, NumberColumn]
    curves: Mapping[str, tuple[CurveColumn, ...]]

    def taken(self, rows: RowNumbers) -> Columns:
        """Return some of the runs, in the order of `rows`; all of them without a copy."""
        if rows.size == self.count and np.array_equal(rows, np.arange(self.count)):
            return self
        return Columns(
            rows.size,
            {
                name: replace(
                    column,
                    values=column.values[rows],
                    uncertainties=column.uncertainties[rows],
                    there=column.there[rows],
                    missing=column.missing[rows],
                )
                for name, column in self.numbers.items()
            },
            {
                name: tuple(
                    replace(column, values=column.values[rows], there=column.there[rows])
                    for column in grids
                )
                for name, grids in self.curves.items()
            },
        )

    def readings(self, row: int) -> Readings:
        """Return the readings of one run, but for the words on what is missing."""
        return Readings(
            {
                name: Number(
                    float(column.values[row]), column.unit, float(column.uncertainties[row])
                )
                for name, column in self.numbers.items()
                if column.there[row]
            },
            {
                name: Curve(column.frequency_hz, column.values[row].astype(np.float64), column.unit)
                for name, grids in self.curves.items()
                for column in grids
                if column.there[row]
            },
            {name: NOT_KEPT for name, column in self.numbers.items() if column.missing[row]},
        )


def columns_of(readings: Sequence[Readings]) -> Columns:
    """Return the readings of many runs as columns, one row for each."""
    count = len(readings)
    numbers: dict[str, NumberColumn] = {}
    curves: dict[str, dict[tuple[str, bytes], CurveColumn]] = {}
    for row, run in enumerate(readings):
        for name, number in run.numbers.items():
            column = numbers.setdefault(name, empty_numbers(number.unit, count))
            column.values[row], column.there[row] = number.value, True
            column.uncertainties[row] = number.uncertainty
        for name in run.missing:
            numbers.setdefault(name, empty_numbers("", count)).missing[row] = True
        for name, curve in run.curves.items():
            grids = curves.setdefault(name, {})
            key = (curve.unit, curve.frequency_hz.tobytes())
            if key not in grids:
                grids[key] = empty_curves(curve.unit, curve.frequency_hz, count)
            grids[key].values[row], grids[key].there[row] = curve.values, True
    return Columns(count, numbers, {name: tuple(found.values()) for name, found in curves.items()})


def empty_numbers(unit: str, count: int) -> NumberColumn:
    """Return a column that no run has a value in yet."""
    values, flags = np.full((2, count), np.nan), np.zeros((2, count), dtype=np.bool_)
    return NumberColumn(unit, values[0], values[1], flags[0], flags[1])


def empty_curves(unit: str, frequency_hz: FloatArray, count: int) -> CurveColumn:
    """Return a table that no run has a curve in yet."""
    values = np.full((count, frequency_hz.size), np.nan, dtype=np.float32)
    return CurveColumn(unit, frequency_hz, values, np.zeros(count, dtype=np.bool_))
