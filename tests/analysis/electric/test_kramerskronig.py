"""Against closed forms, and networks whose impedance ngspice computed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.arrays import ComplexArray
from station.analysis.electric.kramerskronig import minimum_phase_deg, phase_consistency
from tests.ngspice.truth import truth_ohm

# What a sweep gives: 15 Hz to 44 kHz, here at 36 points an octave.
FREQUENCY_HZ = np.geomspace(15.0, 44e3, 420)
BAND = (60.0, 10e3)
NETWORKS = ("driver", "two_way", "hybrid", "moving_coil", "panel")
# Two octaves from the end of the table a slope that is off by 1 beyond it costs, by the weight
# 2 exp(-u) / pi that is left there, 2 / (4 pi) rad or 9 degrees; the networks' are off by less.
END_DEG = 6.0


@pytest.mark.parametrize("slope", [-1.0, -0.5, 0.0, 0.7, 1.0])
def test_a_power_of_frequency_has_ninety_degrees_for_each_power(slope: float) -> None:
    # (j omega)^n has the phase n pi / 2 (Bode 1945, chapter XIV).
    phase_deg = minimum_phase_deg(FREQUENCY_HZ, FREQUENCY_HZ**slope, np.array([15.0, 1e3, 40e3]))
    assert phase_deg == pytest.approx([90.0 * slope] * 3, abs=1e-9)


def test_a_coil_behind_a_resistor_turns_by_the_arctangent() -> None:
    magnitude = np.abs(1.0 + 1j * FREQUENCY_HZ / 800.0)
    at_hz = np.array([100.0, 800.0, 5e3])
    expected_deg = np.degrees(np.arctan(at_hz / 800.0))  # atan(omega L / R)
    # Straight lines over 1/36 octave and slopes that still change at both ends.
    assert minimum_phase_deg(FREQUENCY_HZ, magnitude, at_hz) == pytest.approx(expected_deg, abs=0.1)


def test_a_bend_of_straight_lines_is_met_exactly() -> None:
    # Bode 1945, chapter XV: at the corner of a bend from slope 0 to 1 the phase is 45 degrees;
    # an e-fold below, the sum over odd n of 2 exp(-n) / (pi n^2) rad = 13.63 degrees.
    magnitude = np.maximum(FREQUENCY_HZ, FREQUENCY_HZ[200]) / FREQUENCY_HZ[200]
    at_hz = FREQUENCY_HZ[200] * np.array([1.0, np.exp(-1.0)])
    odd = np.arange(1, 40, 2)
    below_deg = np.degrees(np.sum(2.0 * np.exp(-odd) / (np.pi * odd**2)))
    assert below_deg == pytest.approx(13.63, abs=0.01)
    found_deg = minimum_phase_deg(FREQUENCY_HZ, magnitude, at_hz)
    assert found_deg == pytest.approx([45.0, below_deg], abs=1e-6)


@pytest.mark.parametrize("network", NETWORKS)
def test_a_passive_network_agrees_with_itself(network: str) -> None:
    z_ohm = truth_ohm(network, FREQUENCY_HZ)
    assert phase_consistency(FREQUENCY_HZ, z_ohm, *BAND).worst_deg < END_DEG


@pytest.mark.parametrize("network", NETWORKS)
def test_noise_of_three_thousandths_changes_little(network: str) -> None:
    parts = np.random.default_rng(11).standard_normal((2, FREQUENCY_HZ.size))
    z_ohm = truth_ohm(network, FREQUENCY_HZ) * (1.0 + 0.003 * (parts[0] + 1j * parts[1]))
    # 0.3 % are 0.17 degrees in each of measured and expected phase; four times their sum is 1.
    assert phase_consistency(FREQUENCY_HZ, z_ohm, *BAND).worst_deg < END_DEG + 1.0


@pytest.mark.parametrize("network", NETWORKS)
def test_a_reversed_current_channel_is_half_a_turn_off(network: str) -> None:
    z_ohm = -truth_ohm(network, FREQUENCY_HZ)
    found = phase_consistency(FREQUENCY_HZ, z_ohm, *BAND)
    assert np.min(np.abs(found.excess_deg)) > 180.0 - END_DEG


@pytest.mark.parametrize("delay_samples", [-3.0, -1.0, 1.0, 3.0])
@pytest.mark.parametrize("network", NETWORKS)
def test_a_current_that_comes_late_shows_as_its_delay(network: str, delay_samples: float) -> None:
    delay_s = delay_samples / 96e3
    z_ohm = truth_ohm(network, FREQUENCY_HZ) * np.exp(2j * np.pi * FREQUENCY_HZ * delay_s)
    found = phase_consistency(FREQUENCY_HZ, z_ohm, *BAND)
    # A delay t turns by 360 f t degrees: 37.5 at 10 kHz for one sample of 96 kHz.
    assert found.worst_deg == pytest.approx(37.5 * abs(delay_samples), abs=END_DEG + 1.0)
    assert found.worst_hz > 9e3


def test_a_network_with_a_zero_on_the_wrong_side_is_not_passive() -> None:
    # An all-pass of first order at 500 Hz turns by 2 atan(f / 500 Hz) and leaves |Z| as it is.
    section = (1.0 - 1j * FREQUENCY_HZ / 500.0) / (1.0 + 1j * FREQUENCY_HZ / 500.0)
    z_ohm = truth_ohm("driver", FREQUENCY_HZ) * section
    found = phase_consistency(FREQUENCY_HZ, z_ohm, 400.0, 600.0)
    assert found.worst_deg == pytest.approx(2.0 * np.degrees(np.arctan(1.2)), abs=END_DEG)


@given(st.floats(1e-3, 1e3), st.sampled_from(NETWORKS))
@settings(max_examples=15, deadline=None)
def test_the_size_of_the_impedance_changes_nothing(factor: float, network: str) -> None:
    z_ohm: ComplexArray = truth_ohm(network, FREQUENCY_HZ)
    once = phase_consistency(FREQUENCY_HZ, z_ohm, *BAND)
    scaled = phase_consistency(FREQUENCY_HZ, factor * z_ohm, *BAND)
    np.testing.assert_allclose(scaled.expected_deg, once.expected_deg, atol=1e-9)


def test_a_coarse_grid_still_has_slopes_at_its_ends() -> None:
    coarse_hz = np.geomspace(20.0, 20e3, 16)
    assert minimum_phase_deg(coarse_hz, 1.0 / coarse_hz, coarse_hz) == pytest.approx(-90.0)


def test_what_cannot_be_compared_is_refused() -> None:
    z_ohm = truth_ohm("driver", FREQUENCY_HZ)
    with pytest.raises(ValueError, match="no frequency lies"):
        phase_consistency(FREQUENCY_HZ, z_ohm, 50e3, 60e3)
    with pytest.raises(ValueError, match="16 points"):
        minimum_phase_deg(FREQUENCY_HZ[:8], np.abs(z_ohm[:8]), FREQUENCY_HZ)
    with pytest.raises(ValueError, match="rising"):
        phase_consistency(FREQUENCY_HZ[::-1], z_ohm, *BAND)
