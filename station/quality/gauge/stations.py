"""Stations compared by a reference unit that all of them tested."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from station.analysis.statistics.anova import OneWay, one_way
from station.errors import RefusedInputError
from station.judging.verdicts.verdict import Verdict
from station.quality.statistics.tolerances import tolerances_of
from station.records.kept.run import Run

FEWEST_RUNS = 2  # of each station, to see how much it varies by itself


@dataclass(frozen=True, slots=True)
class NumberComparison:
    """One number on every station: how often, and its mean; `analysis` is by station."""

    reading: str
    unit: str
    counts: Mapping[str, int]
    means: Mapping[str, float]
    analysis: OneWay


@dataclass(frozen=True, slots=True)
class CurveComparison:
    """Where the mean curves of two stations differ most."""

    reading: str
    unit: str
    largest: float
    at_hz: float
    between: tuple[str, str]


@dataclass(frozen=True, slots=True)
class StationComparison:
    """A reference unit's runs, by station."""

    serial: str
    numbers: tuple[NumberComparison, ...]
    curves: tuple[CurveComparison, ...]


def station_comparison(serial: str, runs: Sequence[Run]) -> StationComparison:
    """Return how far stations agree on a unit; voids and trials do not count.

    Raises
    ------
    RefusedInputError
        If there are fewer than two stations with two runs or more.
    """
    by_station: dict[str, list[Run]] = {}
    for run in runs:
        if run.judgement.verdict is not Verdict.VOID and not run.trial:
            by_station.setdefault(run.setup.station_name, []).append(run)
    enough = {name: of for name, of in by_station.items() if len(of) >= FEWEST_RUNS}
    if len(enough) < 2:
        known = ", ".join(f"{name} {len(of)}" for name, of in by_station.items()) or "none"
        raise RefusedInputError(
            f"Two stations with {FEWEST_RUNS} runs of {serial} or more are needed; "
            f"runs are: {known}.",
            "Test the unit on the other stations too, and name their logs.",
        )
    newest = max((run for of in enough.values() for run in of), key=lambda run: run.started_utc)
    limits = tolerances_of(newest.setup.limit_text)
    return StationComparison(
        serial,
        tuple(number_comparisons(limits.numbers, enough)),
        tuple(curve_comparisons(limits.bands, enough)),
    )


def number_comparisons(
    readings: Mapping[str, object], runs: Mapping[str, Sequence[Run]]
) -> Iterator[NumberComparison]:
    """Yield each number that every station has often enough."""
    for reading in readings:
        found = {
            station: [n for run in of if (n := run.readings.numbers.get(reading)) is not None]
            for station, of in runs.items()
        }
        values = {
            station: np.array([one.value for one in of if np.isfinite(one.value)])
            for station, of in found.items()
        }
        if min(of.size for of in values.values()) < FEWEST_RUNS:
            continue
        analysis = one_way(list(values.values()))
        if analysis.within_ss == 0.0:
            continue
        yield NumberComparison(
            reading,
            next(one.unit for of in found.values() for one in of),
            {station: of.size for station, of in values.items()},
            {station: float(of.mean()) for station, of in values.items()},
            analysis,
        )


def curve_comparisons(
    readings: Mapping[str, object], runs: Mapping[str, Sequence[Run]]
) -> Iterator[CurveComparison]:
    """Yield each curve that every run has at the same frequencies."""
    for reading in readings:
        curves = {
            station: [c for run in of if (c := run.readings.curves.get(reading)) is not None]
            for station, of in runs.items()
        }
        every = [curve for of in curves.values() for curve in of]
        if len(every) < sum(map(len, runs.values())):
            continue
        grid = every[0].frequency_hz
        if any(not np.array_equal(curve.frequency_hz, grid) for curve in every):
            continue
        names = list(curves)
        means = np.array([np.mean([c.values for c in curves[name]], axis=0) for name in names])
        finite = np.isfinite(means).all(axis=0)
        if not finite.any():
            continue
        apart = np.where(finite, np.ptp(means, axis=0), -np.inf)
        worst = int(np.argmax(apart))
        low, high = int(np.argmin(means[:, worst])), int(np.argmax(means[:, worst]))
        yield CurveComparison(
            reading,
            every[0].unit,
            float(apart[worst]),
            float(grid[worst]),
            (names[low], names[high]),
        )
