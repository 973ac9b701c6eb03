"""The bounds hold for every change within them: drawn at random, and the worst by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.analysis.acoustic.filtersetting import filter_setting
from station.analysis.plan import FilterPlan, PatternPlan
from station.analysis.readings import Curve
from station.analysis.signals.bands import band_centres
from station.analysis.statistics.pattern import pattern_distance
from station.analysis.statistics.population import pattern_model
from station.analysis.trust.derivedshift import derived_shifts
from tests.analysis.goodunit import PLAN

HZ = band_centres(20.0, 1000.0, 12)
FILTER = FilterPlan("low-pass", 30.0, 60.0, 150.0, 400.0)
MODEL = pattern_model(
    HZ,
    np.random.default_rng(2).normal(0.0, 0.5, (80, 1))
    + np.random.default_rng(3).normal(0.0, 0.1, (80, HZ.size)),
    tuple(str(n) for n in range(80)),
    0.9,
)
ASKED = replace(PLAN, filter=FILTER, pattern=PatternPlan("response", MODEL))
BOUND = Curve(HZ, np.where(HZ < 100.0, 0.4, 0.1), "dB")


# The last change is the worst for the slope: the halves of the flank moved apart.
@pytest.mark.parametrize("seed", range(21))
def test_no_change_within_the_bound_moves_a_number_further(seed: int) -> None:
    # Butterworth of fourth order at 90 Hz: -10 lg(1 + (f/fc)^8).
    level_db = -10.0 * np.log10(1.0 + (HZ / 90.0) ** 8)
    rng = np.random.default_rng(seed)
    ways = rng.choice([-1.0, 1.0], HZ.size) if seed < 20 else np.where(HZ < 245.0, 1.0, -1.0)
    moved_db = level_db + BOUND.values * ways
    bounds = derived_shifts(BOUND, ASKED)
    before, after = (filter_setting(HZ, each, FILTER) for each in (level_db, moved_db))
    assert abs(after.corner_hz - before.corner_hz) <= bounds["filter_corner"]
    change = abs(after.slope_db_per_octave - before.slope_db_per_octave)
    assert change <= bounds["filter_slope"]
    near, far = (
        pattern_distance(MODEL, HZ, MODEL.mean + each) for each in (0.0 * HZ, moved_db - level_db)
    )
    assert far.mode_sigma - near.mode_sigma <= bounds["pattern.modes"]
    assert far.rest_sigma - near.rest_sigma <= bounds["pattern.rest"]
    assert far.distance_sigma - near.distance_sigma <= bounds["pattern.distance"]


def test_nothing_heard_moves_nothing() -> None:
    bounds = derived_shifts(Curve(HZ, np.zeros(HZ.size), "dB"), ASKED)
    assert set(bounds) == {
        "filter_corner", "filter_slope", "pattern.modes", "pattern.rest", "pattern.distance",
    }  # fmt: skip
    assert not any(bounds.values())


def test_what_is_not_asked_for_has_no_bound() -> None:
    assert derived_shifts(BOUND, PLAN) == {}
    of_impedance = replace(PLAN, pattern=PatternPlan("impedance", MODEL))
    assert derived_shifts(BOUND, of_impedance) == {}
