"""Judged curves of production: one band's values unit by unit, and single frequencies as numbers.

A value is what its band judges: the curve itself, its difference from the reference unit, or of a
floating band what is left of that without the unit's own level. Limits are those of the band that
the newest unit of the model was judged by.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from station.analysis.arrays import FloatArray, read_only
from station.errors import RefusedInputError, StationError
from station.judging.files.planning import reference_of_table
from station.judging.tables.tables import BandTable, LimitFile
from station.judging.verdicts.bands import limits_at
from station.judging.words.readingwords import AT_HZ
from station.quality.learning.values import curve_values_of, usual_column
from station.quality.watching.numbers import first_runs
from station.quality.watching.scans import Unit
from station.records.columns.columns import Columns, RowNumbers
from station.records.log.watch import WatchedRun, WatchLog
from station.tomlfiles.loading import model_from_toml

ROUNDED_RATIO = 1e-4  # by which a frequency may be off that somebody typed to five digits


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """A curve at one frequency, to be watched like a number."""

    curve: str
    at_hz: float


@dataclass(frozen=True, slots=True, eq=False)
class JudgedCurves:
    """What one band judges of some runs of one model; NaN rows where a run has no such curve.

    `values` has the shape (n, m), the frequencies and limits (m,); a side that is open is infinite.
    """

    model: str
    reading: str
    unit: str
    frequency_hz: FloatArray
    lower: FloatArray
    upper: FloatArray
    values: FloatArray
    runs: tuple[WatchedRun, ...]
    ends_hz: tuple[float, float]  # of the band, which may reach beyond the first and last frequency

    def __post_init__(self) -> None:
        for name in ("frequency_hz", "lower", "upper", "values"):
            object.__setattr__(self, name, read_only(getattr(self, name)))


def name_at(reading: str, at_hz: float) -> str:
    """Return how a curve at one frequency is called among the readings."""
    return f"{reading}{AT_HZ}{at_hz:.5g}"


def point_named(name: str) -> CurvePoint | None:
    """Return the curve and frequency that a name such as response@1000 says, None if none."""
    curve, _, frequency = name.partition(AT_HZ)
    try:
        at_hz = float(frequency)
    except ValueError:
        return None
    return CurvePoint(curve, at_hz) if curve and 0.0 < at_hz < math.inf else None


def judged_curves(log: WatchLog, units: Sequence[Unit]) -> Iterator[JudgedCurves]:
    """Yield every judged curve of every model, as its units were first decided.

    A model whose newest limits can no longer be read, by an older form of the file, has none.
    """
    for model, runs in first_runs(units).items():
        limits = limits_of(log, runs)
        if limits is not None and limits.bands:
            yield from curves_under(log, model, runs, limits)


def limits_of(log: WatchLog, runs: Sequence[WatchedRun]) -> LimitFile | None:
    """Return the limits that the newest of some runs was judged by; None if they are not read."""
    newest = max(runs, key=lambda run: run.seq)
    try:  # as it stands: the pattern file, which is not judged by here, lay beside it elsewhere
        return model_from_toml(log.text(newest.limit_sha256), "the log's limits", LimitFile)
    except StationError:
        return None


def curves_under(
    log: WatchLog, model: str, runs: Sequence[WatchedRun], limits: LimitFile
) -> Iterator[JudgedCurves]:
    """Yield what each band of a limit file judges of some runs of its model."""
    seq, columns = log.columns(model)
    rows = np.searchsorted(seq, np.array([run.seq for run in runs], dtype=np.int64))
    for band in limits.bands:
        if (found := curves_of_band(model, columns, rows, runs, band, limits)) is not None:
            yield found


def curves_of_band(
    model: str,
    columns: Columns,
    rows: RowNumbers,
    runs: Sequence[WatchedRun],
    band: BandTable,
    limits: LimitFile,
) -> JudgedCurves | None:
    """Return what a band judges of some runs; None if no run has its curve."""
    column = usual_column(columns, band.reading)
    if column is None or not column.there[rows].any():
        return None
    reference = reference_of_table(limits.reference) if limits.reference else None
    try:
        found = curve_values_of(column, rows, band, reference, limits.readings.response.for_v)
    except ValueError:  # the band holds no point of this grid
        return None
    assert found.frequency_hz is not None
    lower, upper = limits_at(found.frequency_hz, band)
    whole = column.there[rows] & np.isfinite(found.values).all(axis=1)
    values = np.where(whole[:, None], found.values, math.nan)
    return JudgedCurves(
        model,
        band.reading,
        found.unit,
        found.frequency_hz,
        lower,
        upper,
        values,
        tuple(runs),
        (band.points[0][0], band.points[-1][0]),
    )


def with_points(
    log: WatchLog, runs: Sequence[WatchedRun], units: Sequence[Unit], points: Sequence[CurvePoint]
) -> tuple[tuple[WatchedRun, ...], Mapping[str, Mapping[str, tuple[float, float]]]]:
    """Return runs that have curves at single frequencies among their numbers, and the limits there.

    The frequency is the nearest that was measured. Limits are by the SHA-256 of the newest limit
    text of each model, then by reading.

    Raises
    ------
    RefusedInputError
        If no model has a band on such a curve at such a frequency.
    """
    extra: dict[int, dict[str, tuple[float, str]]] = {}
    limits_there: dict[str, dict[str, tuple[float, float]]] = {}
    met: set[CurvePoint] = set()
    for model, firsts in first_runs(units).items():
        limits = limits_of(log, firsts)
        mine = tuple(run for run in runs if run.model == model)
        if limits is None:
            continue
        curves = tuple(curves_under(log, model, mine, limits))
        sha256 = max(firsts, key=lambda run: run.seq).limit_sha256
        for point in points:
            band = next((one for one in curves if holds(one, point)), None)
            if band is None:
                continue
            met.add(point)
            at = int(np.argmin(np.abs(np.log(band.frequency_hz / point.at_hz))))
            name = name_at(band.reading, float(band.frequency_hz[at]))
            ends = float(band.lower[at]), float(band.upper[at])
            limits_there.setdefault(sha256, {})[name] = ends
            for run, value in zip(mine, band.values[:, at].tolist(), strict=True):
                if math.isfinite(value):
                    extra.setdefault(run.seq, {})[name] = (value, band.unit)
    for point in points:
        if point not in met:
            raise RefusedInputError(
                f"No band judges a curve {point.curve!r} at {point.at_hz:g} Hz.",
                "'station watch capability' lists the judged curves.",
            )
    return (
        tuple(
            replace(run, numbers={**run.numbers, **extra[run.seq]}) if run.seq in extra else run
            for run in runs
        ),
        limits_there,
    )


def holds(curves: JudgedCurves, point: CurvePoint) -> bool:
    """Return whether a band on the wanted curve spans the wanted frequency."""
    first_hz, last_hz = curves.ends_hz
    low_hz, high_hz = first_hz * (1.0 - ROUNDED_RATIO), last_hz * (1.0 + ROUNDED_RATIO)
    return curves.reading == point.curve and low_hz <= point.at_hz <= high_hz
