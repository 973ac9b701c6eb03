"""Ears are spoken of when unit and room together reach the station's threshold."""

from __future__ import annotations

import pytest

from station.cycle.bench.hearing import ears_at_risk_db_spl
from station.hardware.files.serialtables import SafetyTable
from station.hardware.files.stationfile import StationFile
from station.judging.files.shelf import shelved
from station.simulation.bench.stationfile import simulated_station
from tests.cycle.line import LIMITS

STATION, _ = simulated_station()
FILE = shelved(LIMITS / "tarn2.toml").limits  # 88 dB SPL at its loudest
QUIET = FILE.integrity.model_copy(update={"quiet_below_db_spl": 68.0})
TARN = FILE.model_copy(update={"integrity": QUIET})


def threshold(db_spl: float) -> StationFile:
    return STATION.model_copy(update={"safety": SafetyTable(hearing_from_db_spl=db_spl)})


def test_two_equal_levels_are_three_decibels_more() -> None:
    # 10 lg 2 = 3.0103 dB.
    level = ears_at_risk_db_spl(threshold(91.0), TARN, 88.0)
    assert level == pytest.approx(91.0103, abs=1e-4)


@pytest.mark.parametrize(("from_db_spl", "told"), [(88.0, True), (88.1, False)])
def test_the_room_counts_as_loud_as_it_may_be_until_it_was_heard(
    from_db_spl: float, *, told: bool
) -> None:
    # 88 dB and 68 dB: 10 lg(1 + 0.01) = 0.0432 dB more.
    level = ears_at_risk_db_spl(threshold(from_db_spl), TARN, None)
    assert (level is not None) is told


def test_nothing_is_said_where_nobody_set_a_threshold() -> None:
    assert ears_at_risk_db_spl(STATION.model_copy(update={"safety": None}), TARN, None) is None
