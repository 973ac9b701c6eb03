"""Numbers of production in the order they came: capability, charts, and one clear alarm."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from scipy.stats import t as t_distribution

from station.analysis.arrays import FloatArray, read_only
from station.judging.verdicts.verdict import Verdict
from station.quality.statistics.capability import FEWEST, Capability, capability
from station.quality.statistics.charts import (
    Chart,
    individuals_baseline,
    individuals_chart,
    mean_chart,
    range_chart,
    subgroup_baseline,
    subgroups,
    weighted_chart,
)
from station.quality.statistics.tolerances import Tolerances
from station.quality.watching.scans import Unit
from station.records.log.watch import WatchedRun

# Lucas and Saccucci, Technometrics 32(1), 1990: of subgroups where nothing changes, one in 500.
WEIGHT, WIDTH = 0.2, 2.962
FALSE_RATIO = 0.01  # of looking at a whole span where nothing moved
DISTANCE_UNIT = "sigma"
RANGE_DF = 0.9  # of the degrees of freedom are left where ranges of some five are the spread


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """One judged number of one model, unit by unit as they first were decided."""

    model: str
    reading: str
    unit: str
    limits: tuple[float, float]
    values: FloatArray
    runs: tuple[WatchedRun, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", read_only(self.values))


@dataclass(frozen=True, slots=True, eq=False)
class Charts:
    """A series on its charts; `size` is that of a subgroup.

    The first `baseline` units set the limits; `centre_error` is the standard error of the centre
    that they gave, `sigma_df` the degrees of freedom of their spread.
    """

    series: Series
    size: int
    baseline: int
    centre_error: float
    sigma_df: float
    individuals: Chart
    means: Chart
    ranges: Chart
    weighted: Chart


@dataclass(frozen=True, slots=True)
class Alarm:
    """A series that moved: on which chart, since which unit, to which side, and by how much."""

    model: str
    reading: str
    unit: str
    chart: str
    since_utc: datetime
    since_serial: str
    since: int  # index into the series
    above: bool
    moved: float
    sigmas: float


def series_of(units: Sequence[Unit], tolerances: Mapping[str, Tolerances]) -> tuple[Series, ...]:
    """Return every judged number of every model; `tolerances` by the SHA-256 of limit texts.

    Limits are those that the newest unit of the model was judged by.
    """
    found: list[Series] = []
    for model, runs in first_runs(units).items():
        newest = max(runs, key=lambda run: run.seq)
        names = newest.units()
        for reading, limits in tolerances[newest.limit_sha256].numbers.items():
            values = np.array([run.number(reading) for run in runs])
            there = np.isfinite(values)
            kept = tuple(run for run, is_there in zip(runs, there, strict=True) if is_there)
            unit_name = names.get(reading, "")
            found.append(Series(model, reading, unit_name, limits, values[there], kept))
    return tuple(found)


def first_runs(units: Sequence[Unit]) -> dict[str, list[WatchedRun]]:
    """Return the runs that first decided on the units of each model."""
    by_model: dict[str, list[WatchedRun]] = {}
    for unit in units:
        if unit.decided:
            by_model.setdefault(unit.first.model, []).append(unit.first)
    return by_model


def capability_of(series: Series, size: int) -> Capability | None:
    """Return the capability of a series, None of one too short or that never varies."""
    if series.values.size < max(FEWEST, 2 * size) or np.ptp(series.values) == 0.0:
        return None
    return capability(series.values, *series.limits, size)


def charts_of(series: Series, size: int, baseline: int) -> Charts | None:
    """Return the charts of a series, limits from its first `baseline` units; None if too short.

    Units that failed stay on the charts but out of the baseline: limits are those of good units.
    """
    passed = np.array([run.verdict is Verdict.PASS for run in series.runs], dtype=bool)
    first = series.values[:baseline][passed[:baseline]]
    if series.values.size < baseline or first.size < 2 * size or np.ptp(first) == 0.0:
        return None
    groups = subgroups(series.values, size)
    within = subgroup_baseline(subgroups(first, size))
    means = mean_chart(groups, within)
    sigma = float(means.sigma[0])
    if sigma == 0.0:
        return None
    return Charts(
        series,
        size,
        baseline,
        within.sigma / math.sqrt(first.size),
        RANGE_DF * within.count * (size - 1),
        individuals_chart(series.values, individuals_baseline(first)),
        means,
        range_chart(groups, within),
        weighted_chart(means.points, within.centre, sigma, WEIGHT, WIDTH),
    )


def alarm_of(charts: Charts, false_ratio: float) -> Alarm | None:
    """Return how a series moved after its baseline, None if it did not.

    Means of subgroups and weighted means are held against limits that a series which never moves
    passes with the chance `false_ratio` in the whole span: shared out over all points, in
    Student's t, and as uncertain as the centre is. That is wider than the limits of the charts,
    which are for the eye, and where 27 readings would give some four false alarms a shift.
    """
    start, series = charts.baseline // charts.size, charts.series
    points = 2 * (charts.means.points.size - start)
    if points <= 0:
        return None
    width = float(t_distribution.isf(0.5 * false_ratio / points, charts.sigma_df))
    found = []
    for name, chart in (("means", charts.means), ("weighted means", charts.weighted)):
        beyond = (chart.points - chart.centre) / np.hypot(chart.sigma, charts.centre_error)
        if (late := np.flatnonzero(np.abs(beyond[start:]) > width)).size:
            last = int(late[0]) + start
            found.append((last, name, bool(beyond[last] > 0.0)))
    if not found:
        return None
    last, name, above = min(found)
    since = onset(charts, last, above=above) * charts.size
    moved = float(np.median(series.values[since:])) - float(charts.means.centre[0])
    return Alarm(
        series.model,
        series.reading,
        series.unit,
        name,
        series.runs[since].started_utc,
        series.runs[since].serial,
        since,
        above,
        moved,
        abs(moved) / (float(charts.means.sigma[0]) * math.sqrt(charts.size)),
    )


def onset(charts: Charts, last: int, *, above: bool) -> int:
    """Return since which subgroup the weighted mean has been on its side of the centre."""
    side = charts.weighted.beyond > 0.0 if above else charts.weighted.beyond < 0.0
    first = last
    while first > charts.baseline // charts.size and side[first - 1]:  # since it turned
        first -= 1
    return first


def alarms_of(every: Sequence[Charts]) -> tuple[Alarm, ...]:
    """Return all alarms, the one that moved furthest in its own sigmas first.

    Distances from a population come last: they grow whichever way a unit differs, so a share of
    the station and one of the product do not add up in them. Where nothing moved there is any
    alarm at all with a chance of `FALSE_RATIO` or less.
    """
    share = FALSE_RATIO / max(1, len(every))
    found: Iterator[Alarm] = (alarm for one in every if (alarm := alarm_of(one, share)) is not None)
    return tuple(sorted(found, key=lambda alarm: (alarm.unit == DISTANCE_UNIT, -alarm.sigmas)))
