"""Risks in the long run; JCGM 106:2012, 9.5, by independent integration and by drawing units."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import dblquad, quad
from scipy.stats import gamma, norm

from station.quality.statistics.globalrisk import global_risk
from tests.quality.bearings import LARGEST_UM, MEASUREMENT_UM, SCALE_UM, SHAPE, bearing_risk

CASES = [
    # mean, production, measurement, tolerance, acceptance
    (0.0, 1.0, 0.25, (-2.0, 2.0), (-2.0, 2.0)),
    (0.3, 1.0, 0.25, (-2.0, 2.0), (-1.5, 1.5)),
    (1500.0, 0.12, 0.04, (1499.8, 1500.2), (1499.82, 1500.18)),
    (0.0, 1.0, 0.5, (-math.inf, 1.5), (-math.inf, 1.0)),
]


@pytest.mark.parametrize("case", CASES)
def test_risks_are_the_double_integrals(
    case: tuple[float, float, float, tuple[float, float], tuple[float, float]],
) -> None:
    mean, production, measurement, tolerance, acceptance = case

    def both(reading: float, true: float) -> float:
        return float(norm.pdf(true, mean, production) * norm.pdf(reading, true, measurement))

    far = 9.0 * production
    first, last = mean - far, mean + far
    low, high = max(acceptance[0], first), min(acceptance[1], last + far)
    edges = [max(tolerance[0], first), min(tolerance[1], last)]
    consumer = sum(
        dblquad(both, begin, end, low, high, epsabs=1e-10)[0]
        for begin, end in ((first, edges[0]), (edges[1], last))
        if end > begin
    )
    passing = dblquad(both, edges[0], edges[1], low, high, epsabs=1e-10)[0]
    found = global_risk(*case)
    assert found.consumer == pytest.approx(consumer, abs=2e-8)
    assert found.conforming - found.producer == pytest.approx(passing, abs=2e-8)


def test_risks_are_the_shares_of_units_drawn() -> None:
    random = np.random.default_rng(106)
    true = random.normal(0.0, 1.0, 1_000_000)
    reading = random.normal(true, 0.25)
    conforms, passes = np.abs(true) <= 2.0, np.abs(reading) <= 1.8
    found = global_risk(0.0, 1.0, 0.25, (-2.0, 2.0), (-1.8, 1.8))
    assert found.consumer == pytest.approx(float(np.mean(passes & ~conforms)), abs=3e-4)
    assert found.producer == pytest.approx(float(np.mean(conforms & ~passes)), abs=6e-4)
    # Phi(2) - Phi(-2), normal tables
    assert found.conforming == pytest.approx(0.9545, abs=5e-5)


def test_a_wider_guard_band_moves_risk_from_the_consumer_to_the_producer() -> None:
    risks = [
        global_risk(0.0, 1.0, 0.25, (-2.0, 2.0), (-2.0 + guard, 2.0 - guard))
        for guard in (0.0, 0.25, 0.5)
    ]
    consumers, producers = [r.consumer for r in risks], [r.producer for r in risks]
    assert consumers == sorted(consumers, reverse=True)
    assert producers == sorted(producers)


def test_what_does_not_vary_is_refused() -> None:
    with pytest.raises(ValueError, match="vary"):
        global_risk(0.0, 0.0, 0.1, (-1.0, 1.0), (-1.0, 1.0))


@pytest.mark.parametrize(
    ("limit", "measurement", "accepted", "consumer", "producer"),
    # Deaver, How to Maintain Your Confidence, NCSL 1993, pages 7 and 10, as the tests of the
    # open package suncal quote him: production of sigma 1, limits 2 or 2.5, accepted share of them
    [
        (2.0, 0.25, 1.0, 0.008, 0.015),
        (2.5, 0.25, 1.0, 0.0025, None),
        (2.0, 0.5, 0.91, 0.008, 0.066),
    ],
)
def test_risks_are_those_published(
    limit: float, measurement: float, accepted: float, consumer: float, producer: float | None
) -> None:
    found = global_risk(
        0.0, 1.0, measurement, (-limit, limit), (-accepted * limit, accepted * limit)
    )
    assert found.consumer == pytest.approx(consumer, abs=5e-4)
    assert producer is None or found.producer == pytest.approx(producer, abs=1e-3)


def test_the_risks_of_the_bearings_are_those_of_the_guide() -> None:
    # JCGM 106:2012, 9.5.4, quoted in tests/quality/bearings.py: 4.2 % do not conform, consumer's
    # risk 0.8 %; accepted up to 1.67 it is 0.1 %.
    plain, guarded = bearing_risk(2.0), bearing_risk(1.67)
    assert 1.0 - plain.conforming == pytest.approx(0.042, abs=5e-4)
    assert plain.consumer == pytest.approx(0.008, abs=5e-5)
    assert guarded.consumer == pytest.approx(0.001, abs=2e-5)
    made = gamma(SHAPE, scale=SCALE_UM)
    for risk, accepted_um in ((plain, 2.0), (guarded, 1.67)):
        producer, _ = quad(
            lambda true, limit=accepted_um: made.pdf(true) * norm.sf(limit, true, MEASUREMENT_UM),
            0.0,
            LARGEST_UM,
        )
        assert risk.producer == pytest.approx(producer, abs=2e-6)  # pieces of 6 nm
