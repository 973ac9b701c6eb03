"""Yields, causes, alarms and what moved, on logs whose story is known."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, time
from pathlib import Path

import numpy as np
import pytest

from station.judging.verdicts.verdict import Verdict
from station.quality.statistics.charts import flat_chart, weighted_chart
from station.quality.watching.asjson import (
    alarms_as_object,
    capability_as_object,
    causes_as_object,
    risks_as_object,
    yields_as_object,
)
from station.quality.watching.causes import cause_rows
from station.quality.watching.drift import Moved, drift_between, shift_between
from station.quality.watching.numbers import WEIGHT, WIDTH, Alarm, Series, alarms_of, charts_of
from station.quality.watching.productionrisk import production_risks
from station.quality.watching.scans import scans_of, units_of
from station.quality.watching.watched import Wanted, Watched, watched_production
from station.quality.watching.words import alarm_sentences
from station.quality.watching.yields import Period, shift_name, yield_rows
from station.records.log.gauges import GaugeLog
from station.records.log.log import RunLog
from station.records.log.production import LeftOut
from station.records.log.watch import WatchedRun, WatchLog
from tests.quality.production import BEGAN, Story, run_of_unit, stored
from tests.records.example import example_gauge_entry, example_gauge_plan

WANTED = Wanted(None, None, None, (), 5, 50)


@pytest.fixture
def log(tmp_path: Path) -> Iterator[RunLog]:
    with RunLog.open(tmp_path) as log:
        yield log


def watched(log: RunLog, story: Story, wanted: Wanted = WANTED) -> Watched:
    stored(log, story)
    return watched_production(WatchLog(log), wanted)


def test_a_unit_counts_once_at_first_and_in_the_end(log: RunLog) -> None:
    fine, low = 86.5, 84.0
    runs = [
        run_of_unit("a1", "A", 0, fine, 56.0),
        run_of_unit("b1", "B", 1, low, 56.0),  # fails, is repaired, passes
        run_of_unit("b2", "B", 2, fine, 56.0),
        run_of_unit("c1", "C", 3, fine, 56.0, verdict=Verdict.VOID),  # repeated within the scan
        run_of_unit("c2", "C", 3, fine, 56.0, attempt=2),
        run_of_unit(
            "d1", "D", 4, fine, 56.0, verdict=Verdict.VOID
        ),  # void in the end, scanned again
        run_of_unit("d2", "D", 5, low, 56.0),
        run_of_unit("e1", "E", 6, fine, 56.0, verdict=Verdict.VOID),
    ]
    for run in runs:
        log.store(run)
    log.store(replace(run_of_unit("t", "T", 7, low, 56.0), trial=True))
    found = watched_production(WatchLog(log), WANTED)
    (row,) = yield_rows(found.units, Period.DAY)
    assert (row.units, row.undecided, row.void) == (5, 1, 2)
    assert (row.first_pass.hits, row.first_pass.n) == (2, 4)  # A and C of A, B, C, D
    assert row.in_the_end.hits == 3  # B passed after its repair
    assert [len(unit.scans) for unit in found.units] == [1, 2, 1, 2, 1]
    (cause,) = cause_rows(found.units)
    assert (cause.reading, cause.side, cause.units, cause.so_far) == ("sensitivity", "below", 2, 1)


def test_what_is_no_production_is_left_out(log: RunLog) -> None:
    found = watched(log, Story(units=25))
    assert found.references == ("T2A00000",)
    assert len(found.units) == 25
    gauges = GaugeLog(log)
    gauges.open_study(example_gauge_plan())
    gauges.add_entry(example_gauge_entry(run_id="r3"))
    assert len(watched_production(WatchLog(log), WANTED).units) == 24


def test_yields_are_told_by_hour_day_shift_and_model(log: RunLog) -> None:
    found = watched(log, Story(units=200))
    hours = yield_rows(found.units, Period.HOUR)
    assert [row.name for row in hours][:2] == ["2026-11-23 05:00", "2026-11-23 06:00"]
    assert sum(row.units for row in hours) == 200
    assert hours[0].units == 52  # every 70 s from the full hour on
    assert [row.name for row in yield_rows(found.units, Period.MODEL)] == ["Tarn 2 A"]
    (shift,) = yield_rows(found.units, Period.SHIFT, [time(5), time(13), time(21)])
    assert shift.name == "2026-11-23 05:00"


def test_a_shift_that_began_yesterday_bears_yesterdays_name() -> None:
    starts = [time(6), time(14), time(22)]
    assert shift_name(datetime(2026, 11, 25, 3, tzinfo=UTC), starts) == "2026-11-24 22:00"
    assert shift_name(datetime(2026, 11, 25, 6, tzinfo=UTC), starts) == "2026-11-25 06:00"


def test_nothing_has_moved_where_nothing_moved(log: RunLog) -> None:
    found = watched(log, Story())
    assert alarm_sentences(found) == ("Nothing has moved: 2 readings are where the baseline was.",)


@pytest.mark.parametrize(
    ("product_db", "station_db", "moved"),
    [(-0.3, 0.0, Moved.PRODUCT), (0.0, -0.3, Moved.STATION), (0.4, -0.8, Moved.BOTH)],
)
def test_the_reference_unit_tells_the_product_from_the_station(
    log: RunLog, product_db: float, station_db: float, moved: Moved
) -> None:
    story = Story(product_db=product_db, station_db=station_db)
    found = watched(log, story)
    first, cause, *also = alarm_sentences(found)
    assert first.startswith("ALARM  Tarn 2: sensitivity has moved down by 0.")
    assert not also
    alarm = found.alarms[0]
    assert story.moves_at - 10 <= alarm.alarm.since <= story.moves_at + 15
    assert alarm.drift is not None
    assert alarm.drift.moved is moved
    assert moved.value in cause or cause.startswith("Both")
    assert alarm.alarm.moved == pytest.approx(product_db + station_db, abs=0.1)


def test_runs_that_are_marked_as_checks_tell_as_much_and_are_counted_apart(log: RunLog) -> None:
    found = watched(log, Story(station_db=-0.3, marked=True))
    assert found.references == ("T2A00000",)
    assert len(found.reference_runs("Tarn 2")) == 10  # one in twenty of 200
    drift = found.alarms[0].drift
    assert drift is not None
    assert drift.moved is Moved.STATION
    assert (len(found.units), found.run_count, found.left_out) == (200, 200, LeftOut(check=10))


def test_without_a_reference_unit_it_is_not_told_but_asked_for(log: RunLog) -> None:
    stored(log, Story(product_db=0.5))
    wanted = replace(WANTED, since_utc=BEGAN, references=())
    found = watched_production(WatchLog(log), wanted)
    bare = replace(found, runs=tuple(r for r in found.runs if r.serial != "T2A00000"))
    assert "cannot be told" in alarm_sentences(bare)[1]


def test_capability_and_risk_of_a_known_production(log: RunLog) -> None:
    found = watched(log, Story(units=400, moves_at=999))
    rows = {row["reading"]: row for row in capability_as_object(found.series, 5)["readings"]}
    # by construction: mean 86.5, sigma 0.2, limits 85 to 88: Cp = 3 / 1.2 = 2.5, as is Cpk
    cpk = rows["sensitivity"]["cpk"]
    assert cpk["lower"] <= 2.5 <= cpk["upper"]
    assert rows["fs"]["cp"]["value"] is None
    (risk,) = production_risks(found.series, found.texts)
    assert risk.acceptance == pytest.approx((85.1, 87.9))
    assert risk.production == pytest.approx(0.194, abs=0.02)  # √(0.2² − 0.05²)
    assert risk.risk.consumer < 1e-9


def test_every_object_is_json(log: RunLog) -> None:
    found = watched(log, Story(product_db=-2.5))
    for contents in (
        yields_as_object(yield_rows(found.units, Period.DAY)),
        causes_as_object(found.causes),
        capability_as_object(found.series, 5),
        risks_as_object(production_risks(found.series, found.texts)),
        alarms_as_object(found),
    ):
        json.dumps(contents, allow_nan=False)
    assert found.causes[0].reading == "sensitivity"


def test_an_empty_scan_is_no_scan() -> None:
    assert scans_of([]) == ()
    assert units_of([]) == ()


def test_a_shift_is_certain_only_beyond_its_interval() -> None:
    # Closed form: values ±1 about their means: s² = 8/6, standard error √(4/3 · (1/4 + 1/4)) =
    # 0.8165; t(0.995, 6) = 3.7074 (tables): reach 3.0271.
    before, after = np.array([-1.0, 1.0, -1.0, 1.0]), np.array([2.0, 4.0, 2.0, 4.0])
    found = shift_between(before, after)
    assert found is not None
    assert (found.moved, found.reach) == pytest.approx((3.0, 3.0271), abs=1e-4)
    assert not found.certain
    assert shift_between(before[:1], after) is None
    assert drift_between(before, after, before[:1], after) is not None


def test_false_alarms_of_weighted_means_come_as_rarely_as_published() -> None:
    # Lucas and Saccucci 1990 (from memory): weight 0.2 with 2.962 sigma, one in 500; limits that
    # start narrow, as ours do, come a little sooner.
    chance = np.random.default_rng(500)
    lengths = []
    for _ in range(600):
        chart = weighted_chart(chance.normal(size=4000), 0.0, 1.0, WEIGHT, WIDTH)
        outside = np.flatnonzero((chart.points > chart.upper) | (chart.points < chart.lower))
        lengths.append(outside[0] + 1 if outside.size else 4000)
    assert np.mean(lengths) == pytest.approx(490.0, rel=0.13)  # 3 sigma of 600 run lengths


def test_an_alarm_is_false_as_rarely_as_it_says_and_sees_a_shift() -> None:
    chance = np.random.default_rng(9)
    false = sum(alarmed(chance.normal(size=300)) is not None for _ in range(1500))
    assert false <= 28  # 15 are allowed, 3.3 sigma of a count
    found = [alarmed(np.append(chance.normal(size=100), chance.normal(1.0, 1.0, 100)))
             for _ in range(60)]  # fmt: skip
    seen = [alarm for alarm in found if alarm is not None]
    assert len(seen) >= 58  # of a shift by one sigma of single units
    assert 90 <= np.median([alarm.since for alarm in seen]) <= 105


def alarmed(values: np.ndarray) -> Alarm | None:
    """Return the alarm of one series, alone in its span."""
    run = WatchedRun(1, "s", "m", "A", 1, BEGAN, Verdict.PASS, None, None, "st", "", "", {})
    series = Series("m", "r", "dB", (-9.0, 9.0), values, (run,) * values.size)
    charts = charts_of(series, 5, 100)
    assert charts is not None
    return next(iter(alarms_of([charts])), None)


def test_a_flat_chart_counts_in_sigmas() -> None:
    assert flat_chart(np.array([7.0]), 4.0, 1.5).beyond[0] == pytest.approx(2.0)
