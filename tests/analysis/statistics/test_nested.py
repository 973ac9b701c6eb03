"""A nested gauge study, level by level, and what its standard deviations come to together."""

from __future__ import annotations

import math

import numpy as np
import pytest

from station.analysis.statistics.anova import one_way
from station.analysis.statistics.uncertainty import Estimate, combined, coverage_factor
from tests.quality.resistivity import AVERAGES, BIASES, DAYS, DEVIATIONS, READINGS, readings_like

# Published to as many digits: NIST/SEMATECH e-Handbook, 2.4.4 (wafer 140), 2.6.1 (all wafers).
ROUNDING_4, ROUNDING_5 = 5e-5, 5e-6


def days_of(averages: np.ndarray, deviations: np.ndarray) -> list[np.ndarray]:
    return [
        readings_like(float(average), float(deviation))
        for average, deviation in zip(averages.ravel(), deviations.ravel(), strict=True)
    ]


def test_what_varies_within_a_day_is_pooled_over_days_runs_and_wafers() -> None:
    every = one_way(days_of(AVERAGES, DEVIATIONS))
    assert every.within_df == 300
    assert math.sqrt(every.within_ms) == pytest.approx(0.07287, abs=ROUNDING_5)
    for run, published in ((0, 0.06751), (1, 0.07786)):
        pooled = one_way(days_of(AVERAGES[:, run], DEVIATIONS[:, run]))
        assert math.sqrt(pooled.within_ms) == pytest.approx(published, abs=ROUNDING_5)
    one_wafer = one_way(days_of(AVERAGES[2], DEVIATIONS[2]))
    assert (one_wafer.within_df, one_wafer.within_ss) == (60, pytest.approx(0.371757, abs=1e-6))


def test_what_varies_from_day_to_day_is_pooled_over_runs_and_wafers() -> None:
    every = one_way(list(AVERAGES.reshape(-1, DAYS)))
    assert every.within_df == 50
    assert math.sqrt(every.within_ms) == pytest.approx(0.03617, abs=ROUNDING_5)
    one_wafer = one_way(list(AVERAGES[2]))
    assert one_wafer.within_df == 10
    assert math.sqrt(one_wafer.within_ms) == pytest.approx(0.02742, abs=ROUNDING_5)


def test_what_varies_from_run_to_run_is_pooled_over_wafers() -> None:
    every = one_way(list(AVERAGES.mean(axis=2)))
    assert every.within_df == 5
    assert math.sqrt(every.within_ms) == pytest.approx(0.0196, abs=ROUNDING_4)


def test_a_level_without_those_inside_it_is_the_level_itself() -> None:
    # Days alone 0.0206, runs alone 0.0130: NIST's own R program for 2.6.3 prints 0.02057092 and
    # 0.01295841. Of this wafer-by-wafer design one factor is a wafer's days, or a wafer's runs.
    within = one_way(days_of(AVERAGES, DEVIATIONS)).within_ms
    days = one_way(list(AVERAGES.reshape(-1, DAYS))).within_ms
    runs = one_way(list(AVERAGES.mean(axis=2))).within_ms
    assert math.sqrt(days - within / READINGS) == pytest.approx(0.02057, abs=2e-5)
    assert math.sqrt(runs - days / DAYS) == pytest.approx(0.01296, abs=2e-5)


def test_the_uncertainty_of_a_certified_wafer_is_the_published_one() -> None:
    days = one_way(list(AVERAGES.reshape(-1, DAYS)))
    runs = one_way(list(AVERAGES.mean(axis=2)))
    inputs = [
        Estimate(0.0, math.sqrt(5.0 / 6.0 * days.within_ms), days.within_df),
        Estimate(0.0, math.sqrt(runs.within_ms), runs.within_df),
        Estimate(0.0, float(np.std(BIASES, ddof=1)) / math.sqrt(BIASES.size), BIASES.size - 1),
    ]
    found = combined(lambda at: float(at.sum()), inputs)
    # 2.6.3: u = 0.0388 with 42 degrees of freedom, expanded 0.0782 at 95 %.
    assert found.standard_uncertainty == pytest.approx(0.0388, abs=ROUNDING_4)
    assert round(found.degrees_of_freedom) == 42
    expanded = found.standard_uncertainty * coverage_factor(round(found.degrees_of_freedom), 0.95)
    assert expanded == pytest.approx(0.0782, abs=ROUNDING_4)
