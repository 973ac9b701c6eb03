"""Distances of many stored units from a population: those that one unit would read."""

from __future__ import annotations

import numpy as np
import pytest

from station.analysis.statistics.pattern import pattern_distance
from station.analysis.statistics.population import pattern_model
from station.quality.whatif.pattern import distances_sigma
from tests.quality.manyunits import RESPONSE_HZ


def test_many_distances_are_those_of_one_unit_at_a_time() -> None:
    rng = np.random.default_rng(51)
    level, slope = rng.standard_normal((2, 120, 1))
    shape = np.linspace(-1.0, 1.0, RESPONSE_HZ.size)
    curves = 86.0 + level + slope * shape + 0.2 * rng.standard_normal((120, RESPONSE_HZ.size))
    names = tuple(f"T2A{number:05d}" for number in range(60))
    model = pattern_model(RESPONSE_HZ, curves[:60], names, 0.9)
    many = distances_sigma(model, curves[60:])
    for column, curve in enumerate(curves[60:]):
        one = pattern_distance(model, RESPONSE_HZ, curve)
        wanted = (one.distance_sigma, one.mode_sigma, one.rest_sigma)
        assert tuple(many[:, column]) == pytest.approx(wanted, rel=1e-12)
