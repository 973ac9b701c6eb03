"""Each band of a draft with the units it was tried on: their spread, and the worst it fails."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray
from station.judging.files.planning import reference_of_table
from station.judging.tables.acceptance import accepted_limits
from station.judging.tables.tables import LimitFile
from station.judging.verdicts.bands import limits_at
from station.quality.judged.manyunits import AppliedLimit
from station.quality.judged.units import StoredUnits
from station.quality.learning.values import curve_values_of, usual_column
from station.quality.whatif.spread import CurveSpread, curve_spread
from station.records.columns.columns import RowNumbers


@dataclass(frozen=True, slots=True, eq=False)
class WorstCurve:
    """The curve of a unit that a band fails, shape (n,)."""

    serial: str
    values: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class BandPicture:
    """A band over the curves it judges; limits of shape (n,), infinite where there is none."""

    reading: str
    spread: CurveSpread
    lower: FloatArray
    upper: FloatArray
    failing: int
    worst: tuple[WorstCurve, ...]


def band_pictures(
    units: StoredUnits, limits: LimitFile, applied: Sequence[AppliedLimit], most: int
) -> Iterator[BandPicture]:
    """Yield a picture of each band that some unit has a curve for, with its worst curves."""
    reference = reference_of_table(limits.reference) if limits.reference else None
    for band, found in zip(accepted_limits(limits, {}).bands, applied, strict=False):
        spread = curve_spread(units.readings, band, limits)
        column = usual_column(units.readings, band.reading)
        if spread is None or column is None:
            continue
        rows = worst_rows(found)
        shown = rows[column.there[rows]][:most]
        for_v = limits.readings.response.for_v
        values = curve_values_of(column, shown, band, reference, for_v).values
        lower, upper = limits_at(spread.frequency_hz, band)
        worst = tuple(
            WorstCurve(units.runs[row].serial, curve)
            for row, curve in zip(shown, values, strict=True)
        )
        yield BandPicture(band.reading, spread, lower, upper, int(rows.size), worst)


def worst_rows(found: AppliedLimit) -> RowNumbers:
    """Return the units that a limit fails, the furthest outside first, each once."""
    rows = np.concatenate([violations.rows for _, violations in found.causes])
    depth = np.concatenate([violations.depth for _, violations in found.causes])
    ordered = rows[np.argsort(-depth, kind="stable")]
    _, first = np.unique(ordered, return_index=True)
    return ordered[np.sort(first)]
