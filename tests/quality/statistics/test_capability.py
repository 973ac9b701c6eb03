from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import lognorm, yeojohnson

from station.analysis.arrays import FloatArray
from station.quality.statistics.capability import capability, nearest_index, width_index
from station.quality.statistics.normality import ENOUGH, normality, restored, spread_of


def standardised(n: int, mean: float, sigma: float) -> FloatArray:
    """Return normal values of exactly this mean and standard deviation."""
    z = np.random.default_rng(101).standard_normal(n)
    values: FloatArray = mean + sigma * (z - z.mean()) / z.std(ddof=1)
    return values


def test_the_handbooks_example() -> None:
    # NIST/SEMATECH e-Handbook, 6.1.6: limits 8 and 20, mean 16, s 2: Cp 1.0, Cpk 0.6667.
    found = capability(standardised(100, 16.0, 2.0), 8.0, 20.0, 5)
    assert found.pp.value == pytest.approx(1.0, abs=1e-9)
    assert found.ppk.value == pytest.approx(0.6667, abs=5e-5)
    assert not found.percentile


def test_the_interval_of_a_width_is_exact() -> None:
    # Montgomery, example on Cp with n = 20: limits 62 and 38, s 1.75: Cp 2.29, 95 % interval
    # from 1.57 to 3.01.
    found = width_index(1.75, 19, 38.0, 62.0)
    assert (found.value, found.lower, found.upper) == pytest.approx((2.29, 1.57, 3.01), abs=6e-3)


def test_the_interval_of_the_nearer_side_is_bissells() -> None:
    # Montgomery, example on Cpk: n = 20, Cpk 1.33: 95 % interval from 0.88 to 1.78 (he takes
    # 1 ± 1.96 √(1/(9 n Cpk²) + 1/(2 (n − 1))), which gives 0.88 and 1.78).
    found = nearest_index(0.0, 1.0, 19, 20, -3.99, 10.0)
    assert (found.value, found.lower, found.upper) == pytest.approx((1.33, 0.88, 1.78), abs=1e-2)


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    values = np.random.default_rng(6).normal(0.0, 1.0, (4000, 60))
    held = []
    for mean, sigma in zip(values.mean(axis=1), values.std(axis=1, ddof=1), strict=True):
        found = nearest_index(float(mean), float(sigma), 59, 60, -4.0, 3.0)
        held.append(found.lower <= 1.0 <= found.upper)
    assert np.mean(held) == pytest.approx(0.95, abs=0.015)  # 4 sigma of 4000


def test_a_limit_with_one_side_has_no_width() -> None:
    found = capability(standardised(50, 0.0, 1.0), -math.inf, 3.0, 5)
    assert math.isnan(found.pp.value)
    assert found.ppk.value == pytest.approx(1.0)


def test_what_is_not_normal_stands_on_percentiles() -> None:
    # log-normal of sigma 0.5: 0.135 %, 50 %, 99.865 % at exp(-1.5) = 0.2231, 1 and
    # exp(1.5) = 4.4817 in closed form
    values = lognorm.rvs(0.5, size=400, random_state=np.random.default_rng(3))
    found = capability(values, 0.0, 6.0, 5)
    assert found.percentile
    assert math.isnan(found.cpk.value)
    spread = found.spread
    assert spread is not None
    assert spread.how == "normal after a power transformation"
    # a power transformation of other than logarithms comes close, not nearer
    assert (spread.low, spread.median) == pytest.approx((0.2231, 1.0), abs=0.12)
    assert spread.high == pytest.approx(4.4817, rel=0.25)
    nearer = (1.0 - 0.0) / (1.0 - 0.2231)  # than (6 - 1) / (4.4817 - 1)
    assert found.ppk.lower <= nearer <= found.ppk.upper


def test_of_values_enough_the_percentiles_are_their_own() -> None:
    values = lognorm.rvs(0.5, size=200_000, random_state=np.random.default_rng(4))
    spread = spread_of(values)
    assert values.size > ENOUGH
    # the standard error of such a percentile is 2 to 3 % here
    assert (spread.low, spread.median, spread.high) == pytest.approx(
        (0.2231, 1.0, 4.4817), rel=0.04
    )


@pytest.mark.parametrize("power", [-1.0, 0.0, 0.7, 1.0, 2.0, 3.5])
def test_a_transformation_of_scipy_is_undone(power: float) -> None:
    for value in (-1.3, -0.2, 0.0, 0.4, 2.5):
        changed = float(np.asarray(yeojohnson(np.array([value]), lmbda=power))[0])
        assert restored(changed, power) == pytest.approx(value, abs=1e-9)


def test_values_that_are_all_alike_or_few_say_nothing() -> None:
    assert math.isnan(normality(np.full(30, 1.0)).p_value)
    assert not normality(np.arange(5.0)).doubted
    with pytest.raises(ValueError, match="values or more"):
        capability(np.arange(5.0), 0.0, 1.0, 2)
    with pytest.raises(ValueError, match="one side"):
        capability(standardised(50, 0.0, 1.0), -math.inf, math.inf, 5)
