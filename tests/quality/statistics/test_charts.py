from __future__ import annotations

import numpy as np
import pytest

from station.quality.statistics.chartfactors import d2
from station.quality.statistics.charts import (
    individuals_baseline,
    individuals_chart,
    mean_chart,
    range_chart,
    subgroup_baseline,
    subgroups,
    weighted_chart,
)
from station.quality.statistics.runrules import (
    BEYOND,
    FEW_FALSE,
    RULES,
    SIDE,
    first_signal,
    signals,
)

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: flow rate of ten batches.
FLOW = np.array([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
# The same, 6.3.2.4: twenty values, weight 0.3, centre 50, s 2.0539; the last ten are FLOW.
TWENTY = np.array([52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *FLOW])
WEIGHTED = [
    50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
    50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
]  # fmt: skip


def test_individuals_of_the_handbook() -> None:
    baseline = individuals_baseline(FLOW)
    chart = individuals_chart(FLOW, baseline)
    assert baseline.centre == pytest.approx(50.81)
    assert baseline.sigma * d2(2) == pytest.approx(1.8778, abs=5e-5)
    # The handbook takes d2 as 1.128: 55.8041 and 45.8159; ours is 1.12838.
    assert (chart.upper[0], chart.lower[0]) == pytest.approx((55.8041, 45.8159), abs=2e-3)
    assert not signals(chart.beyond, RULES)


def test_weighted_means_of_the_handbook() -> None:
    chart = weighted_chart(TWENTY, 50.0, 2.0539, 0.3, 3.0)
    assert chart.points == pytest.approx(WEIGHTED, abs=0.006)
    # 52.5884 and 47.4115, once the start is over
    assert (chart.upper[-1], chart.lower[-1]) == pytest.approx((52.5884, 47.4115), abs=1e-3)
    assert np.all((chart.points < chart.upper) & (chart.points > chart.lower))


def test_limits_of_the_first_weighted_mean_are_those_of_one_point() -> None:
    chart = weighted_chart(TWENTY, 50.0, 2.0, 0.2, 3.0)
    assert chart.upper[0] == pytest.approx(50.0 + 3.0 * 0.2 * 2.0)


# Montgomery, Introduction to Statistical Quality Control, table 6.1 (flow width), as quoted in
# several open packages: 25 subgroups of 5.
WIDTH = np.array([
    1.3235, 1.4128, 1.6744, 1.4573, 1.6914, 1.4314, 1.3592, 1.6075, 1.4666, 1.6109,
    1.4284, 1.4871, 1.4932, 1.4324, 1.5674, 1.5028, 1.6352, 1.3841, 1.2831, 1.5507,
    1.5604, 1.2735, 1.5265, 1.4363, 1.6441, 1.5955, 1.5451, 1.3574, 1.3281, 1.4198,
    1.6274, 1.5064, 1.8366, 1.4177, 1.5144, 1.4190, 1.4303, 1.6637, 1.6067, 1.5519,
    1.3884, 1.7277, 1.5355, 1.5176, 1.3688, 1.4039, 1.6697, 1.5089, 1.4627, 1.5220,
    1.4158, 1.7667, 1.4278, 1.5928, 1.4181, 1.5821, 1.3355, 1.5777, 1.3908, 1.7559,
    1.2856, 1.4106, 1.4447, 1.6398, 1.1928, 1.4951, 1.4036, 1.5893, 1.6458, 1.4969,
    1.3589, 1.2863, 1.5996, 1.2497, 1.5471, 1.5747, 1.5301, 1.5171, 1.1839, 1.8662,
    1.3680, 1.7269, 1.3957, 1.5014, 1.4449, 1.4163, 1.3864, 1.3057, 1.6210, 1.5573,
    1.5796, 1.4185, 1.6541, 1.5116, 1.7247, 1.7106, 1.4412, 1.2361, 1.3820, 1.7601,
    1.4371, 1.5051, 1.3485, 1.5670, 1.4880, 1.4738, 1.5936, 1.6583, 1.4973, 1.4720,
    1.5917, 1.4333, 1.5551, 1.5295, 1.6866, 1.6399, 1.5243, 1.5705, 1.5563, 1.5530,
    1.5797, 1.3663, 1.6240, 1.3732, 1.6887,
])  # fmt: skip


def test_means_and_ranges_of_a_textbook() -> None:
    # Montgomery, example 6.1: grand mean 1.5056, mean range 0.32521; limits of the means 1.69325
    # and 1.31795, of the ranges 0.68749 and 0; sigma 0.1398.
    groups = subgroups(WIDTH, 5)
    baseline = subgroup_baseline(groups)
    means, ranges = mean_chart(groups, baseline), range_chart(groups, baseline)
    assert baseline.centre == pytest.approx(1.5056, abs=5e-5)
    assert baseline.sigma == pytest.approx(0.1398, abs=5e-5)
    assert ranges.centre[0] == pytest.approx(0.32521, abs=5e-6)
    assert (means.upper[0], means.lower[0]) == pytest.approx((1.69325, 1.31795), abs=3e-4)
    assert ranges.upper[0] == pytest.approx(0.68749, abs=3e-4)
    assert ranges.lower[0] == 0.0
    assert not signals(means.beyond, (BEYOND,))


def test_a_rest_smaller_than_a_subgroup_is_left_out() -> None:
    assert subgroups(np.arange(11.0), 5).shape == (2, 5)


@pytest.mark.parametrize(
    ("beyond", "name", "first", "last"),
    [
        ([0.0, 0.1, 3.1, 0.0], "beyond", 2, 2),
        ([0.0, 2.1, 0.0, 2.1, 0.0], "far", 1, 3),
        ([1.1, 1.2, 0.5, 1.1, 1.1], "off", 0, 4),
        ([-0.1] * 9, "side", 0, 7),
    ],
)
def test_each_rule_is_broken_where_it_says(
    beyond: list[float], name: str, first: int, last: int
) -> None:
    found = first_signal(np.array(beyond), RULES)
    assert found is not None
    assert (found.rule.name, found.first, found.last) == (name, first, last)
    assert found.above == (beyond[last] > 0.0)


def test_both_sides_do_not_add_up() -> None:
    assert first_signal(np.array([2.1, -2.1, 2.1 - 2.2, -0.5, 0.5] * 3), RULES) is None


@pytest.mark.parametrize(
    ("rules", "published"),
    # Average points to a false alarm: Champ and Woodall, Technometrics 29(4), 1987 (from memory):
    # one point 370.40, one point or eight on a side 152.73, all four 91.75.
    [((BEYOND,), 370.40), (FEW_FALSE, 152.73), (RULES, 91.75)],
)
def test_false_alarms_come_as_rarely_as_published(
    rules: tuple[object, ...], published: float
) -> None:
    points = np.random.default_rng(1987).normal(size=(1500, 3000))
    lengths = [
        found.last + 1
        for row in points
        if (found := first_signal(row[: int(9 * published)], rules)) is not None  # type: ignore[arg-type]
    ]
    # the run length is close to geometric: its mean has a relative error of 1/√1500 = 2.6 %
    assert np.mean(lengths) == pytest.approx(published, rel=0.08)
    assert SIDE in RULES
