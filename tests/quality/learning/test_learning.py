"""Learnt limits pass the share of fresh good units they promise, and no more than they must."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.analysis.readings import Number
from station.errors import RefusedInputError
from station.judging.files.limit_file import limit_file_from_text
from station.quality.judged.manyunits import FAIL, PASS, judged_units
from station.quality.learning.check import held_back
from station.quality.learning.learn import LearningRule, learned_limits, with_learned
from station.records.columns.columns import columns_of
from tests.judging.example import LIMITS
from tests.quality.populations import FILE, LEVEL_DB, RIPPLE_DB, smooth_readings

RULE = LearningRule(coverage=0.997, confidence=0.9, slack=0.4)
LEARNED_FROM, FRESH = 200, 5000


def pass_ratio(correlation: float, seed: int) -> float:
    """Return the share of 5,000 fresh units that pass limits learned from 200."""
    rng = np.random.default_rng(seed)
    learned = learned_limits(
        columns_of(smooth_readings(rng, LEARNED_FROM, correlation)), FILE, RULE
    )
    fresh = columns_of(smooth_readings(rng, FRESH, correlation))
    return float(np.mean(judged_units(fresh, with_learned(FILE, learned)).codes == PASS))


@pytest.mark.parametrize("correlation", [0.0, 0.6, 0.95])
def test_fresh_units_pass_as_often_as_promised(correlation: float) -> None:
    ratios = [pass_ratio(correlation, seed) for seed in range(4)]
    assert min(ratios) >= 0.994  # 99.7 % ± 0.3
    assert np.mean(ratios) >= 0.997


def test_a_pointwise_band_would_not_do() -> None:
    """What the joint factor is for: ± 3 standard deviations at each point fail far more."""
    rng = np.random.default_rng(1)
    learned = columns_of(smooth_readings(rng, LEARNED_FROM, 0.6))
    values = learned.curves["response"][0].values
    fresh = columns_of(smooth_readings(rng, FRESH, 0.6)).curves["response"][0].values
    deviation = np.abs(fresh - np.median(values, axis=0)) / values.std(axis=0, ddof=1)
    assert np.mean(deviation.max(axis=1) > 3.0) > 0.02


def test_the_band_is_no_wider_than_it_must_be() -> None:
    """A dip of seven of the spreads at one point is caught where the band is learned tight."""
    rng = np.random.default_rng(2)
    tight = replace(RULE, slack=0.1)
    learned = learned_limits(columns_of(smooth_readings(rng, LEARNED_FROM, 0.6)), FILE, tight)
    draft = with_learned(FILE, learned)
    faulty = smooth_readings(rng, 500, 0.6)
    for unit in faulty:
        curve = unit.curves["response"]
        values = curve.values.copy()
        values[0] -= 7.0 * np.hypot(LEVEL_DB, RIPPLE_DB)  # the first point's own spread
        unit.curves["response"] = replace(curve, values=values)  # type: ignore[index]
    assert np.mean(judged_units(columns_of(faulty), draft).codes == FAIL) > 0.98


def test_units_from_elsewhere_do_not_widen_the_limits() -> None:
    rng = np.random.default_rng(3)
    good = smooth_readings(rng, LEARNED_FROM, 0.6)
    clean = learned_limits(columns_of(good), FILE, RULE)
    odd = smooth_readings(rng, 3, 0.6)
    for unit in odd:
        unit.numbers["sensitivity"] = Number(70.0, "dB")  # type: ignore[index]
    lacking = replace(good[0], numbers={})
    mixed = learned_limits(columns_of([*good, *odd, lacking]), FILE, RULE)
    assert dict(mixed.set_aside) == {
        200: "sensitivity is far off all others",
        201: "sensitivity is far off all others",
        202: "sensitivity is far off all others",
        203: "lacks a reading",
    }
    assert mixed.members.size == LEARNED_FROM
    assert mixed.numbers == clean.numbers
    assert mixed.bands == clean.bands


def test_what_is_kept_and_what_is_at_least() -> None:
    units = columns_of(smooth_readings(np.random.default_rng(4), LEARNED_FROM, 0.6))
    wide = replace(RULE, at_least={"sensitivity": 3.0}, kept=frozenset({"response"}))
    learned = learned_limits(units, FILE, wide)
    draft = with_learned(FILE, learned)
    assert learned.bands == ()
    assert draft.bands == FILE.bands
    sensitivity, polarity = draft.numbers
    assert polarity == FILE.numbers[1]  # a correlation of ± 1 needs no spread
    assert sensitivity.lower == pytest.approx(83.0, abs=0.1)
    assert sensitivity.upper == pytest.approx(89.0, abs=0.1)
    assert learned.numbers[0].widened


def test_relative_and_floating_bands_are_learned_about_the_reference() -> None:
    text = LIMITS.replace("db = [-30.0, -30.0]", "db = [-17.016, -17.016]")  # 86 dB for 2.83 V
    floating = text.replace('"absolute"', '"floating"\noffset_db = 9.0')
    floating = floating.replace("80.0, 90.0", "-9.0, 9.0").replace("84.0, 88.0", "-9.0, 9.0")
    relative = floating.replace('"floating"\noffset_db = 9.0', '"relative"')
    rng = np.random.default_rng(5)
    units = columns_of(smooth_readings(rng, LEARNED_FROM, 0.6))
    fresh = columns_of(smooth_readings(rng, FRESH, 0.6))
    reach = {}
    for name, words in (("relative", relative), ("floating", floating)):
        limits = limit_file_from_text(words, "x.toml")
        learned = learned_limits(units, limits, RULE)
        many = judged_units(fresh, with_learned(limits, learned))
        assert np.mean(many.codes == PASS) >= 0.994
        reach[name] = learned.bands[0].points[0].upper
        assert learned.bands[0].points[0].lower == pytest.approx(-reach[name], abs=0.4)
    assert reach["floating"] < reach["relative"]  # without the level there is less to allow for
    assert learned.bands[0].offset_db == pytest.approx(2.0, abs=0.7)  # of a spread of 0.5 dB


def test_held_back_units_tell_what_fresh_ones_will_do() -> None:
    units = columns_of(smooth_readings(np.random.default_rng(6), LEARNED_FROM, 0.6))
    learned = learned_limits(units, FILE, RULE)
    check = held_back(units, FILE, RULE, learned.members)
    assert check is not None
    assert check.units == LEARNED_FROM
    assert check.failed <= 4
    loose = held_back(units, FILE, replace(RULE, coverage=0.6, confidence=0.5, slack=0.1),
                      learned.members)  # fmt: skip
    assert loose is not None
    assert loose.failed > 20
    assert held_back(units, FILE, RULE, learned.members[:39]) is None


def test_too_few_and_unvaried_units_are_refused() -> None:
    rng = np.random.default_rng(7)
    with pytest.raises(RefusedInputError, match="too few"):
        learned_limits(columns_of(smooth_readings(rng, 19, 0.6)), FILE, RULE)
    same = smooth_readings(rng, 40, 0.6)
    for unit in same:
        unit.numbers["sensitivity"] = Number(86.0, "dB")  # type: ignore[index]
    with pytest.raises(RefusedInputError, match="does not vary"):
        learned_limits(columns_of(same), FILE, RULE)
    kept = replace(RULE, kept=frozenset({"response", "sensitivity"}))
    with pytest.raises(RefusedInputError, match="no limit to learn"):
        learned_limits(columns_of(same), FILE, kept)
    without = [replace(unit, curves={}) for unit in same]
    with pytest.raises(RefusedInputError, match="No unit has the curve"):
        learned_limits(columns_of(without), FILE, RULE)
