"""Against a panel behind two coupled coils whose impedance ngspice computed (panel.cir)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.arrays import ComplexArray
from station.analysis.electric.panelfit import PanelFit, fitted_panel
from station.analysis.electric.panelphysics import corner_hz, reflected_capacitance_f
from station.errors import NoSignalError
from tests.ngspice.truth import truth_ohm

FREQUENCY_HZ = np.geomspace(5e3, 44e3, 150)
TURNS_RATIO = 50.0
NOISE_RATIO = 0.003
DRAWS = 200

# Two coils L1, L2 coupled by k are, seen from L1, a leakage of (1 - k^2) L1 before a shunt of
# k^2 L1 and an ideal transformer that divides what is behind it by L2 / (k^2 L1) (any text on
# coupled circuits, for example Skilling, Electric Networks, 1974); 700 Ω behind it are 0.28 Ω.
COUPLING = 0.99982
SQUARE = TURNS_RATIO**2 / COUPLING**2
TRUTH = {
    "resistance_ohm": 0.35 + 700.0 / SQUARE,
    "leakage_h": (1.0 - COUPLING**2) * 55e-3,
    "primary_f": 1e-9 * SQUARE,
    "shunt_siemens": SQUARE / 82.5e3,
}


def noisy(z_ohm: ComplexArray, rng: np.random.Generator) -> ComplexArray:
    """Return an impedance with 0.3 % of noise in its real and in its imaginary part."""
    parts = rng.standard_normal((2, z_ohm.size))
    return z_ohm * (1.0 + NOISE_RATIO * (parts[0] + 1j * parts[1]))


@pytest.fixture(scope="module")
def truth() -> dict[str, float]:
    """The circuit's own values, and its minimum as read from ngspice's table."""
    fine_hz = np.geomspace(18e3, 30e3, 20_001)
    z_ohm = truth_ohm("panel", fine_hz)
    lowest = int(np.argmin(np.abs(z_ohm)))
    real = int(np.argmin(np.abs(z_ohm.imag)))
    return TRUTH | {
        "minimum_hz": float(fine_hz[lowest]),
        "minimum_ohm": float(np.abs(z_ohm[lowest])),
        "inductive_above_hz": float(fine_hz[real]),
    }


@pytest.fixture(scope="module")
def draws() -> list[PanelFit]:
    rng = np.random.default_rng(2025)
    z_ohm = truth_ohm("panel", FREQUENCY_HZ)
    return [fitted_panel(FREQUENCY_HZ, noisy(z_ohm, rng), TURNS_RATIO) for _ in range(DRAWS)]


NAMES = (*TRUTH, "minimum_hz", "minimum_ohm", "inductive_above_hz")


@pytest.mark.parametrize("name", NAMES)
def test_parameters_of_a_quiet_measurement_are_the_circuit_s(
    name: str, truth: dict[str, float]
) -> None:
    fit = fitted_panel(FREQUENCY_HZ, truth_ohm("panel", FREQUENCY_HZ), TURNS_RATIO)
    # The model has one resistance where the circuit has one before and one behind the shunt.
    assert getattr(fit, name).value == pytest.approx(truth[name], rel=1e-3)


@pytest.mark.parametrize(
    ("name", "tolerance_ratio"),
    [("primary_f", 0.01), ("leakage_h", 0.02), ("minimum_hz", 0.005)],
)
def test_noise_of_three_thousandths_moves_no_draw_beyond_its_tolerance(
    draws: list[PanelFit], truth: dict[str, float], name: str, tolerance_ratio: float
) -> None:
    values = np.array([getattr(fit, name).value for fit in draws])
    assert np.max(np.abs(values / truth[name] - 1.0)) < tolerance_ratio


# The conductance is left out: there the one resistance of the model costs half the noise.
@pytest.mark.parametrize("name", [name for name in NAMES if name != "shunt_siemens"])
def test_uncertainties_are_as_large_as_the_errors(
    draws: list[PanelFit], truth: dict[str, float], name: str
) -> None:
    fits = [getattr(fit, name) for fit in draws]
    scores = [(fit.value - truth[name]) / fit.standard_uncertainty for fit in fits]
    # The RMS of 200 standard normal values is 1 with a spread of 1 / sqrt(400) = 0.05.
    assert 0.85 < math.sqrt(np.mean(np.square(scores))) < 1.15


def test_the_panel_itself_is_its_capacitance_over_the_square_of_the_turns() -> None:
    fit = fitted_panel(FREQUENCY_HZ, truth_ohm("panel", FREQUENCY_HZ), TURNS_RATIO)
    # The deck's 1 nF; the coupling of 0.99982 makes it look 0.036 % larger.
    assert fit.panel_f.value == pytest.approx(1e-9, rel=5e-4)


def test_a_whole_hybrid_shows_its_panel_from_8_khz_upwards() -> None:
    frequency_hz = np.geomspace(8e3, 44e3, 150)
    fit = fitted_panel(frequency_hz, truth_ohm("hybrid", frequency_hz), TURNS_RATIO)
    # hybrid.cir: 1 nF behind an ideal 1:50 with 20 uH of leakage, a woofer across the terminals
    # and 68 uF in series; ngspice puts the minimum at 23.321 kHz.
    assert fit.panel_f.value == pytest.approx(1e-9, rel=0.01)
    assert fit.leakage_h.value == pytest.approx(20e-6, rel=0.02)
    assert fit.minimum_hz.value == pytest.approx(23321.0, rel=0.005)


@given(
    primary_f=st.floats(1e-6, 6e-6),
    resonance_hz=st.floats(15e3, 30e3),
    resistance_ohm=st.floats(0.2, 2.0),
    shunt_ohm=st.floats(15.0, 500.0),
    seed=st.integers(0, 2**32 - 1),
)
@settings(max_examples=60, deadline=None, derandomize=True)
def test_any_sensible_panel_is_found(
    primary_f: float, resonance_hz: float, resistance_ohm: float, shunt_ohm: float, seed: int
) -> None:
    leakage_h = 1.0 / ((2.0 * math.pi * resonance_hz) ** 2 * primary_f)
    omega = 2j * np.pi * FREQUENCY_HZ
    z_ohm = resistance_ohm + omega * leakage_h + 1.0 / (1.0 / shunt_ohm + omega * primary_f)
    fit = fitted_panel(FREQUENCY_HZ, noisy(z_ohm, np.random.default_rng(seed)), TURNS_RATIO)
    for found, truth in (
        (fit.resistance_ohm, resistance_ohm),
        (fit.leakage_h, leakage_h),
        (fit.primary_f, primary_f),
        (fit.shunt_siemens, 1.0 / shunt_ohm),
    ):
        # Six standard uncertainties: one in 5e8 draws.
        assert abs(found.value - truth) < 6.0 * found.standard_uncertainty


def test_a_lossless_panel_resonates_where_thomson_says() -> None:
    # f = 1 / (2 pi sqrt(L C)): 20 uH and 2.5 uF make 22.508 kHz; there |Z| is R.
    omega = 2j * np.pi * FREQUENCY_HZ
    z_ohm = 0.7 + omega * 20e-6 + 1.0 / (omega * 2.5e-6)
    fit = fitted_panel(FREQUENCY_HZ, z_ohm, TURNS_RATIO)
    assert fit.minimum_hz.value == pytest.approx(22507.9, abs=0.1)
    assert fit.inductive_above_hz.value == pytest.approx(22507.9, abs=0.1)
    assert fit.minimum_ohm.value == pytest.approx(0.7, rel=1e-6)


def test_one_nanofarad_behind_fifty_turns_is_two_and_a_half_microfarads() -> None:
    primary_f = reflected_capacitance_f(1e-9, 50.0)
    assert primary_f == pytest.approx(2.5e-6)
    # 1 / (2 pi * 4 Ω * 2.5 uF) = 15.915 kHz
    assert corner_hz(4.0, primary_f) == pytest.approx(15915.5, abs=0.1)


@pytest.mark.parametrize(
    "z_ohm",
    [
        np.full(FREQUENCY_HZ.size, 8.0 + 0j),
        2.0 + 2j * np.pi * FREQUENCY_HZ * 20e-6,
        2.0 + 1.0 / (2j * np.pi * FREQUENCY_HZ * 2.5e-6),
    ],
    ids=["resistor", "leads of the panel shorted", "no leakage, so no minimum"],
)
def test_what_is_no_panel_gives_no_figures(z_ohm: ComplexArray) -> None:
    with pytest.raises(NoSignalError, match="no electrostatic panel"):
        fitted_panel(FREQUENCY_HZ, noisy(z_ohm, np.random.default_rng(3)), TURNS_RATIO)


def test_what_is_no_impedance_is_refused() -> None:
    z_ohm = truth_ohm("panel", FREQUENCY_HZ)
    with pytest.raises(ValueError, match="two shapes"):
        fitted_panel(FREQUENCY_HZ, z_ohm[:-1], TURNS_RATIO)
    with pytest.raises(ValueError, match="8 points"):
        fitted_panel(FREQUENCY_HZ[:5], z_ohm[:5], TURNS_RATIO)
    with pytest.raises(ValueError, match="turns ratio"):
        fitted_panel(FREQUENCY_HZ, z_ohm, 0.0)
    with pytest.raises(ValueError, match="above zero"):
        reflected_capacitance_f(0.0, 50.0)
    with pytest.raises(ValueError, match="above zero"):
        corner_hz(4.0, 0.0)
