"""A fail is void only if the room may have made every part of it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from station.analysis.readings import Curve
from station.analysis.trust.roomshift import RoomShift
from station.judging.verdicts.noiseguard import (
    is_void_of_the_room,
    may_be_noise,
    void_of,
    without_the_rooms,
)
from station.judging.verdicts.verdict import AppliedBand, Cause, Judgement, Side, Verdict

THIRDS_HZ = np.array([100.0, 125.0, 160.0, 200.0])  # ISO 266
RUB_DB = [50.0, 63.0, 60.0, 50.0]  # 6 and 3 dB outside a band that ends at 57


def failed(*causes: Cause, values: list[float] = RUB_DB, reading: str = "rub") -> Judgement:
    upper = np.full(4, 57.0)
    outside = (np.array(values) > upper).astype(float)
    band = AppliedBand(THIRDS_HZ, np.array(values), np.full(4, -np.inf), upper, outside, "dB")
    return Judgement(Verdict.FAIL, causes, "Rework.", {}, {reading: band})


def cause(
    reading: str, margin: float = -6.0, at_hz: float | None = 125.0, side: Side = "above"
) -> Cause:
    return Cause(reading, side, margin, "dB", at_hz, 2.0, f"{reading} is out.")


def room(*shift_db: float, reading: str = "rub", **numbers: float) -> RoomShift:
    curves = {reading: Curve(THIRDS_HZ, np.array(shift_db), "dB")}
    return RoomShift(curves, {name.replace("__", "."): bound for name, bound in numbers.items()})


def test_a_fail_that_the_room_may_have_made_is_void_and_keeps_its_curves() -> None:
    fail = failed(cause("rub"))
    judgement = without_the_rooms(fail, room(0.0, 6.5, 3.5, 0.0))
    assert judgement.verdict is Verdict.VOID
    assert is_void_of_the_room(judgement)
    assert "not the unit" in judgement.causes[0].happened
    assert judgement.bands is fail.bands


@pytest.mark.parametrize("shift_db", [(0.0, 5.5, 99.0, 0.0), (0.0, 99.0, 2.5, 0.0)])
def test_one_point_that_the_room_did_not_make_fails_the_unit(shift_db: tuple[float, ...]) -> None:
    fail = failed(cause("rub"))
    assert without_the_rooms(fail, room(*shift_db)) is fail


def test_a_point_without_a_bound_is_the_units() -> None:
    fail = failed(cause("rub"))
    assert without_the_rooms(fail, room(0.0, 99.0, math.nan, 0.0)) is fail


def test_a_second_cause_that_no_noise_makes_fails_the_unit() -> None:
    fail = failed(cause("rub"), cause("impedance", -1.0))
    assert without_the_rooms(fail, room(0.0, 99.0, 99.0, 0.0)) is fail


def test_a_missing_reading_is_no_noise() -> None:
    fail = failed(cause("rub"), cause("level.woofer", math.nan, None, "missing"))
    assert without_the_rooms(fail, room(99.0, 99.0, 99.0, 99.0, level__woofer=99.0)) is fail


@pytest.mark.parametrize(("bound_db", "verdict"), [(1.1, Verdict.VOID), (0.9, Verdict.FAIL)])
def test_a_number_is_excused_as_far_as_the_room_moved_it(bound_db: float, verdict: Verdict) -> None:
    fail = failed(cause("rub"), cause("sensitivity", -1.0, None))
    shift = room(0.0, 99.0, 99.0, 0.0, sensitivity=bound_db)
    assert without_the_rooms(fail, shift).verdict is verdict


def test_a_level_that_floats_too_far_is_excused_by_the_largest_shift() -> None:
    fail = failed(cause("response.offset", -1.0, None), values=[50.0] * 4, reading="response")
    shift = room(0.2, 1.5, 0.0, 0.0, reading="response")
    assert without_the_rooms(fail, shift).verdict is Verdict.VOID


def test_pass_and_void_stay_what_they_are() -> None:
    for verdict in (Verdict.PASS, Verdict.VOID):
        judgement = Judgement(verdict, (), "Go on.")
        assert without_the_rooms(judgement, room(99.0, 99.0, 99.0, 99.0)) is judgement


@pytest.mark.parametrize(
    ("readings", "possible"),
    [
        (("rub",), True),
        (("thd", "h3", "response", "level.tweeter"), True),
        (("response",), True),
        (("rub", "polarity.woofer"), False),
        (("rub", "impedance"), False),
        (("fs",), False),
    ],
)
def test_only_what_listens_can_hear_a_noise(readings: tuple[str, ...], *, possible: bool) -> None:
    assert may_be_noise(failed(*(cause(reading) for reading in readings))) is possible


def test_a_void_of_the_recording_is_not_the_rooms() -> None:
    clipped = Cause("microphone", "untrusted", math.nan, "", None, 0.0, "Clipped.", "Less gain.")
    assert not is_void_of_the_room(Judgement(Verdict.VOID, (clipped,), "Less gain."))
    assert is_void_of_the_room(void_of(failed(cause("rub")), "A noise."))
