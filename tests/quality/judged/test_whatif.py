"""The judge of many units against the judge of one: the same answer on every unit."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.measure import Measured
from station.analysis.readings import Curve, Readings
from station.judging.tables.tables import LimitFile
from station.judging.verdicts.judge import judge
from station.judging.verdicts.verdict import Verdict
from station.quality.judged.bands import single_above, single_below
from station.quality.judged.manyunits import VERDICTS, as_the_line, judged_units
from station.records.columns.columns import columns_of
from tests.quality.manyunits import ABSOLUTE, FILE, RESPONSE_HZ, drawn_readings


def check_same(readings: list[Readings], limits: LimitFile) -> Counter[Verdict]:
    """Judge all units both ways; return how many came out how."""
    many = judged_units(columns_of(readings), limits)
    seen: Counter[Verdict] = Counter()
    for row, unit in enumerate(readings):
        one = judge(Measured(unit, ()), limits)
        assert VERDICTS[many.codes[row]] is one.verdict
        seen[one.verdict] += 1
        if one.verdict is not Verdict.FAIL:
            assert many.first_cause[row] == -1
            continue
        first = one.causes[0]
        assert many.cause_names[many.first_cause[row]] == first.reading
        assert many.severity[row] == first.severity
        told = {
            (name, depth, below)
            for limit in many.limits
            for name, found in limit.causes
            for at, depth, below in zip(found.rows, found.depth, found.below, strict=True)
            if at == row and not np.isnan(depth)
        }
        assert told == {
            (cause.reading, -cause.margin, cause.side == "below")
            for cause in one.causes
            if cause.side != "missing"
        }
    return seen


def test_every_branch_of_the_judge_comes_out_the_same() -> None:
    rng = np.random.default_rng(11)
    seen = check_same([drawn_readings(rng, 0.15) for _ in range(700)], FILE)
    assert min(seen[verdict] for verdict in Verdict) > 50  # or the test would show little


def test_mostly_good_units_come_out_the_same() -> None:
    rng = np.random.default_rng(12)
    seen = check_same([drawn_readings(rng, 0.01) for _ in range(400)], ABSOLUTE)
    assert seen[Verdict.PASS] > 100


finite_single = st.floats(width=32, allow_nan=False, allow_infinity=False)


@given(values=st.lists(st.floats(width=32), min_size=21, max_size=21))
@settings(max_examples=60, deadline=None)
def test_whatever_the_curve_it_comes_out_the_same(values: list[float]) -> None:
    good = drawn_readings(np.random.default_rng(1), 0.0)
    curves = {**good.curves, "response": Curve(RESPONSE_HZ, np.array(values), "dB")}
    check_same([Readings(good.numbers, curves, {})], FILE)


@given(value=finite_single, limit=st.floats(allow_nan=False))
def test_comparing_in_single_precision_is_exact(value: float, limit: float) -> None:
    limits = np.array([limit])
    assert (np.float32(value) < single_above(limits)[0]) == (value < limit)
    assert (np.float32(value) > single_below(limits)[0]) == (value > limit)


@given(step=st.integers(-3, 3))
def test_a_curve_on_its_limit_comes_out_the_same(step: int) -> None:
    """A value beside a limit that single precision cannot hold, on either side of it."""
    limit = 86.0 + 1.0 / 3.0
    value = np.float32(limit)
    for _ in range(abs(step)):
        value = np.nextafter(value, np.float32(np.inf if step > 0 else -np.inf))
    band = ABSOLUTE.bands[0].model_copy(
        update={"points": ((100.0, 80.0, limit), (10000.0, 80.0, limit))}
    )
    limits = ABSOLUTE.model_copy(update={"bands": (band,)})
    good = drawn_readings(np.random.default_rng(2), 0.0)
    curve = Curve(RESPONSE_HZ, np.full(RESPONSE_HZ.size, float(value)), "dB")
    seen = check_same([Readings(good.numbers, {**good.curves, "response": curve}, {})], limits)
    failed = seen[Verdict.FAIL] == 1
    assert failed == (float(value) > limit)


def test_an_untrusted_recording_stays_void_whatever_the_limits() -> None:
    rng = np.random.default_rng(3)
    units = columns_of([drawn_readings(rng, 0.0) for _ in range(4)])
    many = judged_units(units, ABSOLUTE)
    kept = as_the_line(units, ABSOLUTE, many, np.array([True, False, False, True]))
    assert [VERDICTS[code] for code in kept.codes][::3] == [Verdict.VOID, Verdict.VOID]
    assert list(kept.codes[1:3]) == list(many.codes[1:3])


def test_no_units_give_no_verdicts() -> None:
    assert judged_units(columns_of([]), FILE).codes.size == 0


@pytest.mark.parametrize("rows", [[0], [2, 0], [0, 1, 2]])
def test_a_taken_row_has_the_readings_it_had(rows: list[int]) -> None:
    rng = np.random.default_rng(4)
    readings = [drawn_readings(rng, 0.3) for _ in range(3)]
    taken = columns_of(readings).taken(np.array(rows))
    for place, row in enumerate(rows):
        again, first = taken.readings(place), readings[row]
        assert set(again.missing) == set(first.missing)
        assert again.numbers.keys() == first.numbers.keys()
        for name, curve in first.curves.items():
            assert np.array_equal(again.curves[name].values, curve.values, equal_nan=True)
