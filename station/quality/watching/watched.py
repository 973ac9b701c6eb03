"""Everything that is watched of a span of production, gathered from the log once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from station.analysis.arrays import FloatArray
from station.errors import RefusedInputError
from station.quality.statistics.tolerances import Tolerances, tolerances_of, with_numbers
from station.quality.watching.causes import CauseRow, cause_rows
from station.quality.watching.curves import CurvePoint, with_points
from station.quality.watching.drift import Drift, drift_between
from station.quality.watching.leftout import left_out_sentence
from station.quality.watching.numbers import Alarm, Charts, Series, alarms_of, charts_of, series_of
from station.quality.watching.scans import Unit, references_in, units_of
from station.records.log.production import LeftOut
from station.records.log.watch import WatchedRun, WatchLog
from station.records.summaries.runlist import Period


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which runs are watched, and how; `references` besides those of the station files.

    `points` are curves at single frequencies, to be watched like numbers.
    """

    since_utc: datetime | None
    until_utc: datetime | None
    model: str | None
    references: tuple[str, ...]
    subgroup: int
    baseline: int
    points: tuple[CurvePoint, ...] = ()

    @property
    def period(self) -> Period:
        """From when to when."""
        return Period(self.since_utc, self.until_utc)


@dataclass(frozen=True, slots=True, eq=False)
class ToldAlarm:
    """An alarm with what moved, as the reference unit tells; `references` are its serials."""

    alarm: Alarm
    drift: Drift | None
    references: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """A span of production; `runs` has those of the reference units as well, `units` has not."""

    wanted: Wanted
    runs: tuple[WatchedRun, ...]
    references: tuple[str, ...]
    units: tuple[Unit, ...]
    series: tuple[Series, ...]
    charts: tuple[Charts, ...]
    texts: Mapping[str, str]  # of limit files, by SHA-256
    left_out: LeftOut

    @property
    def run_count(self) -> int:
        """How many runs the units had."""
        return sum(len(scan.runs) for unit in self.units for scan in unit.scans)

    @property
    def causes(self) -> tuple[CauseRow, ...]:
        """What units failed by."""
        return cause_rows(self.units)

    @property
    def alarms(self) -> tuple[ToldAlarm, ...]:
        """What moved, the furthest first."""
        return tuple(told(self, alarm) for alarm in alarms_of(self.charts))

    def reference_runs(self, model: str) -> tuple[WatchedRun, ...]:
        """Return the runs of a model's reference units that were not void."""
        of_units = units_of(run for run in self.runs if run.serial in self.references)
        finals = [scan.final for unit in of_units for scan in unit.decided]
        mine = [run for run in finals if run.model == model]
        return tuple(sorted(mine, key=lambda run: run.seq))


def watched_production(log: WatchLog, wanted: Wanted) -> Watched:
    """Return a span of production.

    Raises
    ------
    RefusedInputError
        If there is nothing in it, or no band judges a wanted point of a curve.
    """
    runs = log.runs(wanted.model, wanted.period)
    left_out = log.left_out(wanted.model, wanted.period)
    stations = {run.station_sha256 for run in runs}
    named = [serial for key in sorted(stations) for serial in references_in(log.text(key))]
    references = tuple(dict.fromkeys([*wanted.references, *named]))
    units = units_of(runs, leave_out=references)
    if not units:
        nothing = "The log holds no unit of production in that span."
        raise RefusedInputError(
            " ".join([nothing, left_out_sentence(left_out)]).strip(),
            "Widen --since, --until and --model, or name another log with --logs.",
        )
    texts = {key: log.text(key) for key in {run.limit_sha256 for run in runs}}
    tolerances: dict[str, Tolerances] = {key: tolerances_of(text) for key, text in texts.items()}
    if wanted.points:
        runs, extra = with_points(log, runs, units, wanted.points)
        units = units_of(runs, leave_out=references)
        for key, numbers in extra.items():
            tolerances[key] = with_numbers(tolerances[key], numbers)
    series = series_of(units, tolerances)
    charts = [charts_of(one, wanted.subgroup, wanted.baseline) for one in series]
    drawn = tuple(one for one in charts if one)
    return Watched(wanted, runs, references, units, series, drawn, texts, left_out)


def told(watched: Watched, alarm: Alarm) -> ToldAlarm:
    """Return an alarm with what the model's reference units say to it."""
    series = next(
        one for one in watched.series if (one.model, one.reading) == (alarm.model, alarm.reading)
    )
    runs = watched.reference_runs(alarm.model)
    before, after = apart(runs, alarm)
    drift = drift_between(
        series.values[: watched.wanted.baseline],
        series.values[alarm.since :],
        values_of(before, alarm.reading),
        values_of(after, alarm.reading),
    )
    return ToldAlarm(alarm, drift, tuple(dict.fromkeys(run.serial for run in runs)))


def apart(
    runs: Sequence[WatchedRun], alarm: Alarm
) -> tuple[Sequence[WatchedRun], Sequence[WatchedRun]]:
    """Return runs from before and from after an alarm's beginning."""
    before = [run for run in runs if run.started_utc < alarm.since_utc]
    return before, runs[len(before) :]


def values_of(runs: Sequence[WatchedRun], reading: str) -> FloatArray:
    """Return a number of each run that has it."""
    values = np.array([run.number(reading) for run in runs], dtype=np.float64)
    return values[np.isfinite(values)]
