from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from station.quality.learning.factor import (
    LargestDeviation,
    Sides,
    confidence_factor,
    fitted_deviation,
    held_out_deviations,
)


def test_a_single_number_gets_the_published_tolerance_factor() -> None:
    # NIST/SEMATECH e-Handbook, 7.2.6.3: 43 wafers, 90 % of them, confidence 99 %: k2 = 2.217.
    ninety = LargestDeviation(Sides.BOTH, 1.0, 1.0).deviation_beyond(0.1)
    factor = ninety * np.sqrt(1.0 + 1.0 / 43.0) * confidence_factor(43, 0.99)
    assert factor == pytest.approx(2.2173, abs=1e-4)


@pytest.mark.parametrize(("sides", "one"), [(Sides.BOTH, 2.0), (Sides.UPPER, 1.0)])
def test_the_largest_of_independent_deviates_has_its_closed_form(sides: Sides, one: float) -> None:
    # P(largest of m < u) = (1 - one Q(u))^m; here m = 50 and u = 3, whose Q is 1.349898e-3.
    share = 1.0 - (1.0 - one * 1.349898e-3) ** 50
    assert LargestDeviation(sides, 50.0, 1.0).deviation_beyond(share) == pytest.approx(
        3.0, abs=1e-5
    )


@pytest.mark.parametrize("sides", list(Sides))
def test_the_fit_finds_how_many_deviates_there_are(sides: Sides) -> None:
    values = np.random.default_rng(5).standard_normal((4000, 30)) * 2.0 + 7.0
    fitted = fitted_deviation(held_out_deviations(values, sides), 30, sides)
    truth = LargestDeviation(sides, 30.0, 1.0)
    for share in (0.05, 0.003, 0.0003):
        found, wanted = fitted.deviation_beyond(share), truth.deviation_beyond(share)
        assert found == pytest.approx(wanted, rel=0.04)  # three standard errors of the fit


def test_points_that_move_together_count_as_fewer() -> None:
    rng = np.random.default_rng(6)
    same = np.repeat(rng.standard_normal((2000, 1)), 40, axis=1)
    fitted = fitted_deviation(held_out_deviations(same, Sides.BOTH), 40, Sides.BOTH)
    # All points are one deviate: 3.290527 is the two-sided 0.1 % point of the normal distribution.
    assert fitted.deviation_beyond(0.001) == pytest.approx(3.2905, rel=0.06)


def test_wider_tails_make_wider_limits() -> None:
    rng = np.random.default_rng(7)
    normal, wide = rng.standard_normal((2000, 20)), rng.standard_t(5, (2000, 20))
    factors = [
        fitted_deviation(held_out_deviations(values, Sides.BOTH), 20, Sides.BOTH)
        for values in (normal, wide)
    ]
    assert factors[1].deviation_beyond(0.001) > 1.15 * factors[0].deviation_beyond(0.001)


def test_limits_of_a_single_number_hold_with_the_stated_confidence() -> None:
    rng = np.random.default_rng(8)
    held = 0
    for _ in range(300):
        values = rng.standard_normal((60, 1))
        fitted = fitted_deviation(held_out_deviations(values, Sides.BOTH), 1, Sides.BOTH)
        reach = fitted.deviation_beyond(0.01) * confidence_factor(60, 0.9) * values.std(ddof=1)
        centre = float(np.median(values))
        inside = stats.norm.cdf(centre + reach) - stats.norm.cdf(centre - reach)
        held += inside >= 0.99
    # 90 % of 300, and what chance may take away: three standard deviations are 16.
    assert held >= 0.9 * 300 - 16
