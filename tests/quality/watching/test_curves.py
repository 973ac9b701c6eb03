"""Curves are watched frequency by frequency: capability where it is worst, charts at any point."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from station.analysis.readings import Curve, Readings
from station.errors import RefusedInputError
from station.quality.watching.curvecapability import octave_capabilities, octaves_of, worst_of
from station.quality.watching.curves import CurvePoint, JudgedCurves, holds, judged_curves
from station.quality.watching.watched import Wanted, watched_production
from station.quality.watching.words import alarm_sentences
from station.records.log.log import RunLog
from station.records.log.watch import WatchLog
from tests.quality.biglog import fill_log
from tests.quality.manyunits import RESPONSE_HZ
from tests.quality.populations import LEVEL_DB, POINTS, RIPPLE_DB, smooth_readings
from tests.quality.storedunits import stored

UNITS = 240
SEED = 25  # one seed in twenty lies outside a 95 % interval, as 31 does
WANTED = Wanted(None, None, None, (), 5, 100)
AT_1_KHZ = int(np.argmin(np.abs(RESPONSE_HZ - 1000.0)))


def made_up() -> list[Readings]:
    return smooth_readings(np.random.default_rng(SEED), UNITS, 0.6)


@pytest.fixture
def log(tmp_path: Path) -> Iterator[WatchLog]:
    fill_log(tmp_path, stored(made_up()))
    with RunLog.open(tmp_path) as log:
        yield WatchLog(log)


def test_the_index_of_nine_values_is_that_worked_by_hand() -> None:
    # -4 to 4: the mean is 0, the variance 60/8 = 7.5; Ppk = 6 / (3 √7.5), worked by hand
    values = np.arange(-4.0, 5.0)[[4, 0, 8, 2, 6, 1, 7, 3, 5]]
    curves = JudgedCurves(
        "Tarn 2",
        "response",
        "dB",
        np.array([900.0, 1000.0, 1100.0]),
        np.array([-9.0, -9.0, -9.0]),
        np.array([8.0, 6.0, 7.0]),
        np.repeat(values[:, None], 3, axis=1),
        (),
        (800.0, 1200.0),
    )
    (octave,) = octaves_of(replace(curves, runs=(None,) * 9), 2)  # type: ignore[arg-type]
    assert (octave.centre_hz, octave.at_hz) == (1000.0, 1000.0)
    assert octave.capability.ppk.value == pytest.approx(6.0 / (3.0 * math.sqrt(7.5)))


def test_the_worst_frequency_of_a_known_population_is_named(log: WatchLog) -> None:
    watched = watched_production(log, WANTED)
    octaves = octave_capabilities(judged_curves(log, watched.units), 5)
    assert [one.centre_hz for one in octaves] == [125.0, 250.0, 500.0, 1e3, 2e3, 4e3, 8e3]
    worst = worst_of(octaves)
    assert worst is not None
    assert worst.at_hz == pytest.approx(1000.0, rel=0.01)
    # Closed form of the population: normal, its sigma at 1 kHz is that of level and ripple, and
    # the limits of the file lie 2 dB to each side.
    ripple = RIPPLE_DB * np.linspace(1.0, 3.0, POINTS)[AT_1_KHZ]
    truth = 2.0 / (3.0 * math.hypot(LEVEL_DB, ripple))
    assert worst.capability.ppk.lower < truth < worst.capability.ppk.upper
    assert worst.capability.n == UNITS


def test_a_curve_at_one_frequency_is_watched_like_a_number(tmp_path: Path) -> None:
    units = made_up()
    for number in range(150, UNITS):  # from there on 1 kHz, and nothing else, is 2 dB louder
        curve = units[number].curves["response"]
        values = np.array(curve.values)
        values[AT_1_KHZ] += 2.0
        units[number] = replace(
            units[number], curves={"response": Curve(RESPONSE_HZ, values, "dB")}
        )
    fill_log(tmp_path, stored(units))
    with RunLog.open(tmp_path) as log:
        at_1_khz = (CurvePoint("response", 1010.0),)
        watched = watched_production(WatchLog(log), replace(WANTED, points=at_1_khz))
        assert "response@1000" in [series.reading for series in watched.series]
        first = alarm_sentences(watched)[0]
        assert first.startswith("ALARM  Tarn 2: response at 1 kHz has moved up by ")
        (alarm,) = watched.alarms
        assert 140 <= alarm.alarm.since <= 160
        plain = watched_production(WatchLog(log), WANTED)
        assert alarm_sentences(plain)[0].startswith("Nothing has moved")


def test_the_end_of_a_band_is_charted_at_the_nearest_measured_frequency(log: WatchLog) -> None:
    (curves,) = judged_curves(log, watched_production(log, WANTED).units)
    wide = replace(curves, ends_hz=(90.0, 11000.0))  # breakpoints between measured frequencies
    for at_hz, inside in ((89.0, False), (90.0, True), (11000.0, True), (11010.0, False)):
        assert holds(wide, CurvePoint("response", at_hz)) == inside


@pytest.mark.parametrize("point", [CurvePoint("impedance", 100.0), CurvePoint("response", 20.0)])
def test_a_point_that_nothing_judges_is_refused(log: WatchLog, point: CurvePoint) -> None:
    with pytest.raises(RefusedInputError, match="No band judges"):
        watched_production(log, replace(WANTED, points=(point,)))
