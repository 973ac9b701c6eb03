"""Against the worked examples of JCGM 100:2008, annex H, and the published tables beside them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.analysis.arrays import FloatArray
from station.analysis.statistics.covariance import (
    correlation_of,
    covariance_of,
    propagated_covariance,
    sensitivities,
)
from station.analysis.statistics.uncertainty import (
    Estimate,
    combined,
    coverage_factor,
    effective_degrees_of_freedom,
    level_uncertainty_db,
    mean_estimate,
    rectangular_uncertainty,
    relative_uncertainty_ratio,
)

# JCGM 100:2008, table H.2: voltage in V, current in A, phase angle in rad.
VOLTAGE_V = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
CURRENT_A = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) * 1e-3
PHASE_RAD = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])


def end_gauge_length_nm(inputs: FloatArray) -> float:
    """Length by JCGM 100, eq. (H.2), with d as in H.1.3.2 and the temperature as in H.1.3.4."""
    standard, indicated, random, systematic, expansion, difference, mean, cycle, apart = inputs
    deviation = mean + cycle
    compared = indicated + random + systematic
    return float(standard + compared - standard * (difference * deviation + expansion * apart))


def end_gauge_inputs() -> list[Estimate]:
    # JCGM 100:2008, H.1.3 and table H.1; lengths in nm, temperatures in degrees Celsius.
    return [
        Estimate(50_000_623.0, 25.0, 18.0),
        Estimate(215.0, 5.8, 24.0),
        Estimate(0.0, 3.9, 5.0),
        Estimate(0.0, 6.7, 8.0),
        Estimate(11.5e-6, rectangular_uncertainty(2e-6)),
        Estimate(0.0, rectangular_uncertainty(1e-6), 50.0),
        Estimate(-0.1, 0.2),
        Estimate(0.0, 0.35),
        Estimate(0.0, rectangular_uncertainty(0.05), 2.0),
    ]


def test_the_end_gauge_reads_as_the_guide_prints_it() -> None:
    length = combined(end_gauge_length_nm, end_gauge_inputs())
    # H.1.7: l = 50.000 838 mm, u_c = 32 nm, 16 degrees of freedom, U99 = 2.92 * 32 nm = 93 nm.
    assert length.value == pytest.approx(50_000_838.0, abs=0.5)
    assert length.standard_uncertainty == pytest.approx(32.0, abs=0.5)
    assert math.floor(length.degrees_of_freedom) == 16
    factor = coverage_factor(length.degrees_of_freedom, 0.99)
    assert factor == pytest.approx(2.92, abs=0.005)
    assert factor * length.standard_uncertainty == pytest.approx(93.0, abs=1.0)


def test_the_comparator_has_the_printed_degrees_of_freedom() -> None:
    # H.1.6: u(d) = 9.7 nm with 25.6 degrees of freedom, from 5.8, 3.9 and 6.7 nm. The guide
    # rounds u(d) to 9.7 first, which lifts its fourth power by 0.8 %.
    contributions = np.array([5.8, 3.9, 6.7])
    degrees = effective_degrees_of_freedom(contributions, np.array([24.0, 5.0, 8.0]))
    assert degrees == pytest.approx(25.6, rel=0.01)


def test_means_of_the_resistance_example_are_as_printed() -> None:
    # JCGM 100:2008, table H.2, lower part.
    for observations, mean, spread in (
        (VOLTAGE_V, 4.9990, 0.0032),
        (CURRENT_A * 1e3, 19.6610, 0.0095),
        (PHASE_RAD, 1.04446, 0.00075),
    ):
        estimate = mean_estimate(observations)
        assert estimate.value == pytest.approx(mean, abs=5e-6)
        assert estimate.standard_uncertainty == pytest.approx(spread, rel=0.01)
        assert estimate.degrees_of_freedom == 4.0


def impedance_parts(inputs: FloatArray) -> FloatArray:
    """Resistance, reactance and magnitude by JCGM 100, eq. (H.7)."""
    voltage_v, current_a, phase_rad = inputs
    magnitude_ohm = voltage_v / current_a
    return np.stack(
        [magnitude_ohm * np.cos(phase_rad), magnitude_ohm * np.sin(phase_rad), magnitude_ohm]
    )


def test_resistance_and_reactance_read_as_the_guide_prints_them() -> None:
    observed = np.stack([VOLTAGE_V, CURRENT_A, PHASE_RAD])
    means = [mean_estimate(row) for row in observed]
    values = np.array([mean.value for mean in means])
    uncertainties = np.array([mean.standard_uncertainty for mean in means])
    # Table H.2: r(V, I) = -0.36, r(V, phi) = 0.86, r(I, phi) = -0.65.
    correlation = np.corrcoef(observed)
    assert correlation[np.triu_indices(3, 1)] == pytest.approx([-0.36, 0.86, -0.65], abs=0.005)
    parts_ohm = impedance_parts(values)
    partials = sensitivities(impedance_parts, values, uncertainties)
    covariance = propagated_covariance(partials, covariance_of(uncertainties, correlation))
    # Table H.3: R, X, Z in ohm, their standard uncertainties, and their correlations; the guide
    # carries rounded values through, which may move its last digit by one.
    assert parts_ohm == pytest.approx([127.732, 219.847, 254.260], abs=5e-4)
    assert np.sqrt(np.diag(covariance)) == pytest.approx([0.071, 0.295, 0.236], abs=1e-3)
    upper = correlation_of(covariance)[np.triu_indices(3, 1)]
    assert upper == pytest.approx([-0.588, -0.485, 0.993], abs=1e-3)


def test_both_ways_through_the_resistance_example_agree() -> None:
    # H.2.4: the same from the five values of R, X and Z as five observations (table H.4).
    each = impedance_parts(np.stack([VOLTAGE_V, CURRENT_A, PHASE_RAD]))
    spread_ohm = [mean_estimate(row).standard_uncertainty for row in each]
    assert spread_ohm == pytest.approx([0.071, 0.295, 0.236], abs=1e-3)


@pytest.mark.parametrize(
    ("degrees", "probability", "factor"),
    [
        # JCGM 100:2008, table G.2.
        (1.0, 0.6827, 1.84),
        (4.0, 0.95, 2.78),
        (10.0, 0.95, 2.23),
        (16.0, 0.99, 2.92),
        (16.9, 0.99, 2.92),  # G.4.1: truncated to the next lower whole number
        (50.0, 0.9545, 2.05),
        (math.inf, 0.95, 1.960),
        (math.inf, 0.9973, 3.000),
    ],
)
def test_coverage_factors_are_those_of_the_guide(
    degrees: float, probability: float, factor: float
) -> None:
    assert coverage_factor(degrees, probability) == pytest.approx(factor, abs=0.005)


def test_a_rectangle_of_one_degree_half_width_has_its_published_spread() -> None:
    # JCGM 100:2008, 4.3.7, example: half width 0.01e-6 gives u = 5.8e-9.
    assert rectangular_uncertainty(0.01e-6) == pytest.approx(5.8e-9, rel=0.01)


def test_a_hundredth_in_amplitude_is_a_twelfth_of_a_decibel() -> None:
    # 20 lg(1.01 / 0.99) / 2 = 0.08686 dB; the slope of the logarithm differs by less than 1e-4.
    assert level_uncertainty_db(0.01) == pytest.approx(10.0 * math.log10(1.01 / 0.99), rel=1e-4)


@given(st.floats(0.0, 1.0))
def test_levels_and_ratios_are_each_other_s_inverse(ratio: float) -> None:
    assert relative_uncertainty_ratio(level_uncertainty_db(ratio)) == pytest.approx(ratio)


@given(
    st.lists(st.floats(0.01, 10.0), min_size=1, max_size=6),
    st.floats(1.0, 100.0),
)
def test_effective_degrees_stay_between_the_smallest_and_the_sum(
    contributions: list[float], degrees: float
) -> None:
    # JCGM 100:2008, G.4.1, note after (G.2b): nu_eff <= sum of nu_i; and never below the least.
    effective = effective_degrees_of_freedom(
        np.array(contributions), np.full(len(contributions), degrees)
    )
    assert degrees * (1.0 - 1e-9) <= effective <= degrees * len(contributions) * (1.0 + 1e-9)


@given(st.lists(st.floats(0.001, 100.0), min_size=2, max_size=6))
def test_a_sum_of_independent_inputs_adds_in_squares(uncertainties: list[float]) -> None:
    # JCGM 100:2008, 5.1.2: for a sum every sensitivity is 1.
    total = combined(lambda x: float(np.sum(x)), [Estimate(1.0, u) for u in uncertainties])
    assert total.standard_uncertainty == pytest.approx(math.hypot(*uncertainties))
    assert total.degrees_of_freedom == math.inf


def test_fully_correlated_inputs_add_as_they_are() -> None:
    # JCGM 100:2008, 5.2.2, note 1, with its example of ten resistors: 10 * 0.1 ohm = 1 ohm.
    covariance = covariance_of(np.full(10, 0.1), np.ones((10, 10)))
    total = propagated_covariance(np.ones((1, 10)), covariance)
    assert math.sqrt(total[0, 0]) == pytest.approx(1.0)


def test_a_certain_input_has_a_sensitivity_all_the_same() -> None:
    partials = sensitivities(lambda x: x**3, np.array([2.0]), np.array([0.0]))
    assert partials[0, 0] == pytest.approx(12.0, rel=1e-8)


def test_what_is_no_uncertainty_is_refused() -> None:
    with pytest.raises(ValueError, match="uncertainty >= 0"):
        Estimate(1.0, math.nan)
    with pytest.raises(ValueError, match="correlation matrix"):
        covariance_of(np.ones(2), np.array([[1.0, 1.2], [1.2, 1.0]]))
    with pytest.raises(ValueError, match="degrees >= 1"):
        coverage_factor(0.5, 0.95)
    with pytest.raises(ValueError, match="all finite"):
        mean_estimate(np.array([1.0, math.nan]))
    with pytest.raises(ValueError, match="one input or more"):
        combined(lambda x: 0.0, [])
    with pytest.raises(ValueError, match="variances above zero"):
        correlation_of(np.zeros((2, 2)))
