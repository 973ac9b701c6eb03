from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from scipy.stats import norm

from station.study.detectioncurve import DetectionCurve, Ladder, detection_curve

# Beetles killed by carbon disulphide: Bliss, Ann. Appl. Biol. 22, 1935, pp. 134-167.
DOSE = (1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839)
BEETLES = (59, 60, 62, 56, 63, 59, 62, 60)
KILLED = (6, 13, 18, 28, 52, 53, 61, 60)
STEPS = tuple(range(10))
TWENTY = (20,) * 10


def ladder(
    position: Sequence[float], found: Sequence[float], tested: Sequence[float], floor: float = 0.0
) -> Ladder:
    return Ladder(np.array(position, float), np.array(found, float), np.array(tested, float), floor)


def fitted(found: Sequence[float], floor: float = 0.0) -> DetectionCurve:
    return detection_curve(ladder(STEPS, found, TWENTY, floor), (0.5, 0.9, 0.99))


def test_the_probit_fit_of_the_beetles_is_the_published_one() -> None:
    # Dobson, An Introduction to Generalized Linear Models, 2nd ed., 2002, section 7.3:
    # probit intercept -34.935, slope 19.728, deviance 10.12
    beetles = ladder(DOSE, KILLED, BEETLES)
    curve = detection_curve(beetles, (0.5,))
    assert curve.intercept == pytest.approx(-34.935, abs=5e-4)
    assert curve.slope == pytest.approx(19.728, abs=5e-4)
    share = beetles.found / beetles.tested
    alive = beetles.tested - beetles.found
    saturated = beetles.found @ np.log(share) + alive @ np.log(np.where(alive > 0, 1 - share, 1))
    deviance = 2.0 * (saturated - beetles.log_likelihood(curve.intercept, curve.slope))
    assert deviance == pytest.approx(10.12, abs=5e-3)
    assert curve.thresholds[0].position == pytest.approx(34.935 / 19.728, abs=1e-4)
    assert not curve.steep
    assert not curve.poor_fit


def test_a_curve_that_counts_follow_exactly_is_found_again() -> None:
    position = np.linspace(-3.0, 5.0, 12)
    tested = np.full(12, 1e6)
    floor = 0.04
    # natural response after Abbott, J. Econ. Entomol. 18, 1925, pp. 265-267
    found = tested * (floor + (1.0 - floor) * norm.cdf(position, loc=1.3, scale=0.8))
    curve = detection_curve(Ladder(position, found, tested, floor), (0.5, 0.9, 0.99))
    wanted = norm.ppf([0.5, 0.9, 0.99], loc=1.3, scale=0.8)
    assert [t.position for t in curve.thresholds] == pytest.approx(list(wanted), abs=1e-5)
    assert curve.probability(np.array([1.3]))[0] == pytest.approx(0.52, abs=1e-6)


def test_a_large_ladders_interval_is_the_asymptotic_one() -> None:
    # Fisher information of a probit model, McCullagh and Nelder, Generalized Linear Models,
    # 2nd ed., 1989, section 4.4: sum of n phi^2 / (P Q) times outer product of (1, x); the
    # median's variance by the delta method. At n = 1e5 the profile is a parabola.
    position = np.linspace(-3.0, 3.0, 7)
    tested = np.full(7, 1e5)
    share = norm.cdf(position)
    curve = detection_curve(Ladder(position, tested * share, tested), (0.5,))
    weight = tested * norm.pdf(position) ** 2 / (share * (1.0 - share))
    rows = np.vstack([np.ones(7), position])
    covariance = np.linalg.inv((rows * weight) @ rows.T)
    half_width = 1.959964 * math.sqrt(covariance[0, 0])  # median 0 and slope 1
    assert curve.thresholds[0].upper == pytest.approx(half_width, rel=0.01)
    assert curve.thresholds[0].lower == pytest.approx(-half_width, rel=0.01)


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    rng = np.random.default_rng(4)
    position = np.arange(10.0)
    share = norm.cdf(position, loc=4.6, scale=1.1)
    truth = norm.ppf(0.9, loc=4.6, scale=1.1)
    held = 0
    for _ in range(100):
        found = rng.binomial(20, share).astype(float)
        (at_90,) = detection_curve(Ladder(position, found, np.full(10, 20.0)), (0.9,)).thresholds
        held += at_90.lower <= truth <= at_90.upper
    # 95 % of 100 is 95 with a standard deviation of 2.2
    assert 89 <= held <= 99


def test_all_from_one_rung_on_is_found_between_two_rungs() -> None:
    curve = fitted([0] * 5 + [20] * 5)
    half, ninety, most = curve.thresholds
    assert curve.steep
    assert half.position == pytest.approx(4.5, abs=1e-3)  # by symmetry
    assert 4.0 < half.lower < 4.5 < half.upper < 5.0
    assert half.position < ninety.position < most.position
    # no steeper than one rung from 1 to 99 %: half a rung above the median
    assert most.position == pytest.approx(5.0, abs=1e-3)
    assert not curve.poor_fit


def test_what_is_never_found_is_not_reached_but_has_a_lower_bound() -> None:
    curve = fitted([0] * 10)
    for threshold in curve.thresholds:
        assert threshold.position == math.inf
        assert threshold.upper == math.inf
        assert threshold.lower == 9.0  # at least the last rung: no more was tried


def test_what_is_always_found_lies_before_the_first_rung() -> None:
    half, *_ = fitted([20] * 10).thresholds
    assert half.position == -math.inf
    assert half.lower == -math.inf
    assert half.upper == 0.0


def test_a_curve_that_ends_early_reaches_only_what_it_reaches() -> None:
    half, ninety, most = fitted([0, 0, 0, 1, 1, 2, 4, 7, 9, 12]).thresholds
    assert 8.0 < half.position < 9.0
    assert ninety.position == most.position == math.inf
    assert math.isfinite(ninety.lower)


def test_failures_that_good_units_share_are_not_credited_to_the_fault() -> None:
    found = [2] * 10  # one in ten, whatever the severity
    without = fitted(found, floor=0.1)
    assert all(threshold.position == math.inf for threshold in without.thresholds)
    assert not without.poor_fit


def test_counts_that_fall_again_are_called_a_poor_fit() -> None:
    assert fitted([0, 0, 0, 3, 10, 18, 20, 20, 10, 0]).poor_fit


def test_thresholds_move_and_stretch_with_the_positions() -> None:
    found = [0, 0, 1, 3, 8, 12, 17, 20, 20, 20]
    first = detection_curve(ladder(STEPS, found, TWENTY), (0.5, 0.9))
    moved = [1000.0 + 0.01 * step for step in STEPS]
    second = detection_curve(ladder(moved, found, TWENTY), (0.5, 0.9))
    for one, other in zip(first.thresholds, second.thresholds, strict=True):
        for name in ("position", "lower", "upper"):
            wanted = 1000.0 + 0.01 * getattr(one, name)
            assert getattr(other, name) == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize(
    ("position", "found", "tested", "floor"),
    [([0.0], [1], [2], 0.0), ([1.0, 0.0], [1, 1], [2, 2], 0.0), ([0.0, 1.0], [3, 1], [2, 2], 0.0),
     ([0.0, 1.0], [1, 1], [2, 2], 1.0), ([0.0, 1.0], [1], [2, 2], 0.0)],
)  # fmt: skip
def test_ladders_that_make_no_sense_are_refused(
    position: list[float], found: list[float], tested: list[float], floor: float
) -> None:
    with pytest.raises(ValueError):  # noqa: PT011 - each has a sentence of its own
        ladder(position, found, tested, floor)
