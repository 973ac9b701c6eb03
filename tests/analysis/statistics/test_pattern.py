"""Against normal populations drawn in the test: three wide modes and noise beside them."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.arrays import FloatArray
from station.analysis.statistics.pattern import (
    PatternDistance,
    farthest_good,
    pattern_distance,
    probability_beyond,
)
from station.analysis.statistics.population import PatternModel, model_of, pattern_model, plain_of
from station.errors import NoSignalError, RefusedInputError

POINTS = 40
FREQUENCY_HZ = np.geomspace(100.0, 10e3, POINTS)
PLACE = np.linspace(0.0, 1.0, POINTS)
SHAPES_DB = np.stack(
    [0.8 * np.ones(POINTS), 0.4 * np.cos(np.pi * PLACE), 0.25 * np.cos(2.0 * np.pi * PLACE)]
)
NOISE_DB = 0.1 + 0.1 * PLACE
# The three modes hold 96 to 98 % of the variance; this keeps them and no others.
EXPLAINED_RATIO = 0.95
MODELS = 400
FRESH = 3
# Kolmogorov's statistic of n uniform values exceeds 1.63 / sqrt(n) once in a hundred draws
# (Massey, J. Am. Stat. Assoc. 46, 1951).
LARGEST_STATISTIC = 1.63 / math.sqrt(MODELS * FRESH)


def units_db(rng: np.random.Generator, count: int, *, smooth: bool = False) -> FloatArray:
    """Return curves of good units around 88 dB; smooth noise moves neighbours together."""
    noise = rng.standard_normal((count, POINTS + 4))
    kernel = np.array([1.0, 2.0, 3.0, 2.0, 1.0]) if smooth else np.array([0.0, 0.0, 1.0, 0.0, 0.0])
    kernel = kernel / np.linalg.norm(kernel)
    beside = np.stack([np.convolve(row, kernel, "valid") for row in noise])
    curves: FloatArray = 88.0 + rng.standard_normal((count, 3)) @ SHAPES_DB + beside * NOISE_DB
    return curves


def ids(count: int) -> tuple[str, ...]:
    return tuple(f"T2-{number:04d}" for number in range(count))


def model_from(curves: FloatArray) -> PatternModel:
    return pattern_model(FREQUENCY_HZ, curves, ids(len(curves)), EXPLAINED_RATIO)


def fresh_distances(members: int, *, smooth: bool) -> list[PatternDistance]:
    """Return the distances of fresh good units, each three from a population of its own."""
    rng = np.random.default_rng(members)
    found = []
    for _ in range(MODELS):
        curves = units_db(rng, members + FRESH, smooth=smooth)
        model = model_from(curves[:members])
        found += [pattern_distance(model, FREQUENCY_HZ, row) for row in curves[members:]]
    return found


@pytest.fixture(scope="module")
def model() -> PatternModel:
    return model_from(units_db(np.random.default_rng(1), 150))


@pytest.mark.parametrize("smooth", [False, True], ids=["rough", "smooth"])
@pytest.mark.parametrize("members", [100, 200])
def test_fresh_good_units_follow_the_published_distributions(members: int, *, smooth: bool) -> None:
    found = fresh_distances(members, smooth=smooth)
    # A probability that is right is evenly spread between 0 and 1.
    for name in ("mode_probability", "rest_probability"):
        values = np.array([getattr(distance, name) for distance in found])
        assert scipy.stats.kstest(values, "uniform").statistic < LARGEST_STATISTIC, name
        # 12 of 1200 are expected below 1 %, with a spread of 3.4; the tail is what judges.
        assert np.count_nonzero(values < 0.01) <= 25, name
    # F(3, 97) has the mean 97 / 95; the RMS of 1200 has a spread of 0.02.
    squares = [distance.mode_sigma**2 for distance in found]
    assert np.mean(squares) == pytest.approx(1.0, abs=0.08)
    assert np.mean([distance.rest_sigma**2 for distance in found]) == pytest.approx(1.0, abs=0.03)


def test_members_held_against_modes_fitted_to_them_would_look_too_good() -> None:
    # The naive residual spread of k modes is sqrt(1 - k / m - k / n) of the true one: without the
    # units left out, fresh ones would be rejected too often.
    curves = units_db(np.random.default_rng(2), 25)
    found = pattern_model(FREQUENCY_HZ, curves, ids(25), 0.9)
    centred = curves - curves.mean(axis=0)
    left = centred - centred @ found.modes.T @ found.modes
    assert np.mean(found.rest_spread) > 1.05 * np.mean(np.std(left, axis=0))


def test_the_population_s_own_modes_are_found(model: PatternModel) -> None:
    # The wide shapes, made orthogonal, span what the model's modes span.
    wide = np.linalg.qr(SHAPES_DB.T)[0]
    angles = np.linalg.svd(wide.T @ model.modes.T, compute_uv=False)
    # Perturbation by noise: sin^2 < noise / (members * widest of the smallest mode), below 1 %.
    assert np.all(angles > 0.99)
    np.testing.assert_allclose(model.modes @ model.modes.T, np.eye(3), atol=1e-12)


def test_what_good_units_do_too_is_along_the_modes(model: PatternModel) -> None:
    distance = pattern_distance(model, FREQUENCY_HZ, model.mean + 4.0 * SHAPES_DB[0])
    # 0.8 dB is one standard deviation of the first shape: 4 of them, and the other scores zero.
    assert distance.mode_sigma == pytest.approx(4.0 / math.sqrt(3.0), rel=0.15)
    assert distance.rest_sigma < 0.5
    assert distance.mode_probability < 0.01 < distance.rest_probability


def test_what_good_units_never_do_is_beside_the_modes(model: PatternModel) -> None:
    notch_db = np.zeros(POINTS)
    notch_db[25] = -2.0
    distance = pattern_distance(model, FREQUENCY_HZ, model.mean + notch_db)
    assert distance.rest_probability < 1e-4 < distance.mode_probability
    assert distance.worst_hz == FREQUENCY_HZ[25]
    assert distance.rest_sigma_curve[25] < -8.0  # the noise there is 0.164 dB


def test_the_mean_curve_has_no_distance(model: PatternModel) -> None:
    distance = pattern_distance(model, FREQUENCY_HZ, model.mean)
    assert distance.distance_sigma == pytest.approx(0.0, abs=1e-9)
    assert distance.mode_probability == pytest.approx(1.0)


def test_distance_is_the_root_mean_square_of_its_two_parts(model: PatternModel) -> None:
    distance = pattern_distance(model, FREQUENCY_HZ, units_db(np.random.default_rng(3), 1)[0])
    parts = np.array([distance.mode_sigma, distance.rest_sigma])
    assert distance.distance_sigma == pytest.approx(math.sqrt(np.mean(parts**2)))


def test_independent_frequencies_leave_a_chi_square() -> None:
    # With the identity as correlation, all three traces are n, and n times the mean square is
    # chi-square of n; its published 1 % point for n = 40 is 63.691.
    assert probability_beyond(63.691 / 40.0, np.full(3, 40.0)) == pytest.approx(0.01, abs=2e-4)


def test_one_common_movement_leaves_a_single_square() -> None:
    # All points as one: traces n, n^2, n^3; the mean square is a normal value squared, whose
    # published 5 % point is 3.841. Here the power law is the cube root of Wilson and Hilferty
    # (Proc. Nat. Acad. Sci. 17, 1931), which reads 0.0472 at one degree of freedom.
    traces = np.array([40.0, 40.0**2, 40.0**3])
    assert probability_beyond(3.841, traces) == pytest.approx(0.05, abs=3e-3)


@given(st.floats(-20.0, 20.0), st.floats(0.1, 10.0))
@settings(max_examples=20, deadline=None)
def test_neither_level_nor_unit_of_the_curves_matters(offset: float, scale: float) -> None:
    curves = units_db(np.random.default_rng(4), 41)
    plain = pattern_distance(model_from(curves[:40]), FREQUENCY_HZ, curves[40])
    moved = scale * curves + offset
    again = pattern_distance(model_from(moved[:40]), FREQUENCY_HZ, moved[40])
    assert again.distance_sigma == pytest.approx(plain.distance_sigma, rel=1e-6)
    assert again.rest_probability == pytest.approx(plain.rest_probability, rel=1e-5)


def test_more_frequencies_than_units_are_no_trouble() -> None:
    curves = units_db(np.random.default_rng(5), 31)
    distance = pattern_distance(model_from(curves[:30]), FREQUENCY_HZ, curves[30])
    assert 0.0 < distance.rest_probability < 1.0


def test_a_model_survives_being_written_as_text(model: PatternModel) -> None:
    again = model_of(json.loads(json.dumps(plain_of(model))))
    assert again.member_ids == model.member_ids
    assert again.explained_ratio == model.explained_ratio
    for name in ("frequency_hz", "mean", "modes", "mode_spread", "rest_spread", "rest_traces"):
        np.testing.assert_array_equal(getattr(again, name), getattr(model, name))


def test_a_model_cannot_be_changed(model: PatternModel) -> None:
    with pytest.raises(ValueError, match="read-only"):
        model.mean[0] = 0.0


@pytest.mark.parametrize(
    ("damage", "message"),
    [
        ({"mean": [1.0, 2.0]}, "shapes"),
        ({"rest_traces": [1.0]}, "three traces"),
        ({"rest_spread": [0.0] * POINTS}, "above zero"),
        ({"mean": [math.nan] * POINTS}, "finite"),
        ({"member_ids": ["a"] * 150}, "doubled"),
        ({"member_ids": ["a", "b"]}, "too few"),
        ({"colour": "red"}, "got colour"),
    ],
)
def test_a_damaged_model_is_refused(
    model: PatternModel, damage: dict[str, object], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        model_of({**plain_of(model), **damage})


def test_too_few_units_are_refused_with_a_remedy() -> None:
    with pytest.raises(RefusedInputError, match="19 units are too few") as refused:
        model_from(units_db(np.random.default_rng(6), 19))
    assert "20 good units" in refused.value.remedy


def test_a_population_without_common_shapes_is_refused() -> None:
    noise = np.random.default_rng(7).standard_normal((60, POINTS))
    with pytest.raises(RefusedInputError, match="independent ways"):
        model_from(noise)


def test_copies_of_one_curve_are_no_population() -> None:
    curves = units_db(np.random.default_rng(8), 30)
    curves[:, 7] = 88.0
    with pytest.raises(RefusedInputError, match="same at"):
        model_from(curves)


def test_a_curve_with_gaps_is_not_judged(model: PatternModel) -> None:
    values = model.mean.copy()
    values[3] = math.nan
    with pytest.raises(NoSignalError, match="gaps"):
        pattern_distance(model, FREQUENCY_HZ, values)


def test_what_does_not_fit_together_is_refused(model: PatternModel) -> None:
    with pytest.raises(ValueError, match="frequencies"):
        pattern_distance(model, FREQUENCY_HZ * 1.01, model.mean)
    with pytest.raises(ValueError, match="need shape"):
        pattern_model(FREQUENCY_HZ, np.ones((30, 5)), ids(30), 0.9)
    with pytest.raises(ValueError, match="finite curves"):
        pattern_model(FREQUENCY_HZ, np.full((30, POINTS), np.nan), ids(30), 0.9)
    with pytest.raises(ValueError, match="doubled"):
        replace(model, member_ids=("a",) * 150)


def test_how_far_good_units_lie_is_read_from_the_tables(model: PatternModel) -> None:
    independent = replace(model, rest_traces=np.full(3, 100.0))
    modes, rest = farthest_good(independent, 0.001)
    # chi-square of 100 degrees of freedom exceeds 149.449 in one of 1000 (Pearson's table)
    assert rest == pytest.approx(math.sqrt(149.449 / 100.0), rel=2e-3)
    # one of 1000 by the same rule as `mode_probability`, which the units above hold to
    members, count = len(model.member_ids), model.mode_spread.size
    assert scipy.stats.f.sf(modes**2, count, members - count) == pytest.approx(0.001, rel=1e-9)
    with pytest.raises(ValueError, match=r"between 0 and 0\.5"):
        farthest_good(model, 0.5)
