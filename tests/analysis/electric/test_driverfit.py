"""Against a driver whose mechanics ngspice turned into an impedance (moving_coil.cir)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.analysis.arrays import ComplexArray
from station.analysis.electric.driverfit import DriverFit, fitted_driver
from station.analysis.electric.driverphysics import closed_box
from station.analysis.plan import ResonancePlan
from station.analysis.statistics.complexfit import relative_fit
from station.errors import NoSignalError
from tests.ngspice.truth import truth_ohm

FREQUENCY_HZ = np.geomspace(15.0, 20e3, 150)
PEAK = ResonancePlan(20.0, 200.0)
NOISE_RATIO = 0.003
DRAWS = 200

# The deck's own values. From them, by Small (J. Audio Eng. Soc. 20(5), 1972), in mechanical terms:
# omega_s = 1/sqrt(Mms Cms), Qms = omega_s Mms / Rms, Qes = omega_s Mms Re / Bl^2, Res = Bl^2 / Rms.
BL, MMS_KG, CMS_M_PER_N, RMS_KG_PER_S, RE_OHM = 7.4, 19.5e-3, 0.62e-3, 1.35, 5.8
OMEGA_S = 1.0 / math.sqrt(MMS_KG * CMS_M_PER_N)
QMS = OMEGA_S * MMS_KG / RMS_KG_PER_S
QES = OMEGA_S * MMS_KG * RE_OHM / BL**2
TRUTH = {
    "re_ohm": RE_OHM,
    "fs_hz": OMEGA_S / (2.0 * math.pi),
    "qms": QMS,
    "qes": QES,
    "qts": QMS * QES / (QMS + QES),
    "res_ohm": BL**2 / RMS_KG_PER_S,
    "coil_ohm": 0.021,
    "coil_exponent": 0.68,
}


def noisy(z_ohm: ComplexArray, rng: np.random.Generator) -> ComplexArray:
    """Return an impedance with 0.3 % of noise in its real and in its imaginary part."""
    parts = rng.standard_normal((2, z_ohm.size))
    return z_ohm * (1.0 + NOISE_RATIO * (parts[0] + 1j * parts[1]))


@pytest.fixture(scope="module")
def draws() -> list[DriverFit]:
    rng = np.random.default_rng(2024)
    z_ohm = truth_ohm("moving_coil", FREQUENCY_HZ)
    return [fitted_driver(FREQUENCY_HZ, noisy(z_ohm, rng), PEAK) for _ in range(DRAWS)]


@pytest.mark.parametrize("name", TRUTH)
def test_parameters_of_a_quiet_measurement_are_those_of_the_mechanics(name: str) -> None:
    fit = fitted_driver(FREQUENCY_HZ, truth_ohm("moving_coil", FREQUENCY_HZ), PEAK)
    # The table was saved with nine digits and is read with a spline.
    assert getattr(fit, name).value == pytest.approx(TRUTH[name], rel=1e-5)


@pytest.mark.parametrize(
    ("name", "tolerance_ratio"),
    [("fs_hz", 0.002), ("qms", 0.01), ("qes", 0.01), ("qts", 0.01), ("re_ohm", 0.01)],
)
def test_noise_of_three_thousandths_moves_no_draw_beyond_its_tolerance(
    draws: list[DriverFit], name: str, tolerance_ratio: float
) -> None:
    values = np.array([getattr(fit, name).value for fit in draws])
    assert np.max(np.abs(values / TRUTH[name] - 1.0)) < tolerance_ratio


@pytest.mark.parametrize("name", TRUTH)
def test_uncertainties_are_as_large_as_the_errors(draws: list[DriverFit], name: str) -> None:
    fits = [getattr(fit, name) for fit in draws]
    scores = [(fit.value - TRUTH[name]) / fit.standard_uncertainty for fit in fits]
    # The RMS of 200 standard normal values is 1 with a spread of 1 / sqrt(400) = 0.05.
    assert 0.85 < math.sqrt(np.mean(np.square(scores))) < 1.15


def test_what_is_left_is_the_noise(draws: list[DriverFit]) -> None:
    left = np.mean([fit.residual_ratio for fit in draws])
    # Spread of one draw: 0.3 % / sqrt(2 * 294); of the mean of 200, 0.3 % of that figure.
    assert left == pytest.approx(NOISE_RATIO, rel=0.01)


@given(
    fs_hz=st.floats(30.0, 110.0),
    q=st.floats(1.0, 15.0),
    peak_ratio=st.floats(2.0, 12.0),
    re_ohm=st.floats(1.5, 12.0),
    exponent=st.floats(0.5, 1.0),
    seed=st.integers(0, 2**32 - 1),
)
@settings(max_examples=60, deadline=None, derandomize=True)
def test_any_sensible_driver_is_found(
    fs_hz: float, q: float, peak_ratio: float, re_ohm: float, exponent: float, seed: int
) -> None:
    # The coil is as large as the copper at 1 kHz, a usual figure (common practice, no source).
    omega = 2j * np.pi * FREQUENCY_HZ
    detuning = FREQUENCY_HZ / fs_hz - fs_hz / FREQUENCY_HZ
    z_ohm = re_ohm * (
        1.0 + (omega / (2e3 * np.pi)) ** exponent + peak_ratio / (1.0 + 1j * q * detuning)
    )
    fit = fitted_driver(FREQUENCY_HZ, noisy(z_ohm, np.random.default_rng(seed)), PEAK)
    for found, truth in (
        (fit.fs_hz, fs_hz),
        (fit.qms, q),
        (fit.re_ohm, re_ohm),
        (fit.coil_exponent, exponent),
    ):
        # Six standard uncertainties: one in 5e8 draws.
        assert abs(found.value - truth) < 6.0 * found.standard_uncertainty


@given(st.floats(0.01, 100.0))
@settings(max_examples=20, deadline=None, derandomize=True)
def test_scaling_the_impedance_scales_ohms_and_nothing_else(factor: float) -> None:
    z_ohm = truth_ohm("moving_coil", FREQUENCY_HZ)
    fit = fitted_driver(FREQUENCY_HZ, factor * z_ohm, PEAK)
    assert fit.re_ohm.value == pytest.approx(factor * TRUTH["re_ohm"], rel=1e-5)
    assert fit.fs_hz.value == pytest.approx(TRUTH["fs_hz"], rel=1e-5)
    assert fit.qts.value == pytest.approx(TRUTH["qts"], rel=1e-5)


def test_a_closed_box_shows_in_two_fits() -> None:
    # Box and suspension stiffness add: K_box = 2.2 / Cms makes alpha 2.2 (Small, 20(10), 1972).
    stiffer_hz = TRUTH["fs_hz"] * math.sqrt(3.2)
    stiffer_q = QMS * math.sqrt(3.2)
    rng = np.random.default_rng(7)
    free = fitted_driver(FREQUENCY_HZ, noisy(truth_ohm("moving_coil", FREQUENCY_HZ), rng), PEAK)
    coil_ohm = 0.021 * (2j * np.pi * FREQUENCY_HZ) ** 0.68
    detuning = FREQUENCY_HZ / stiffer_hz - stiffer_hz / FREQUENCY_HZ
    boxed_ohm = RE_OHM + coil_ohm + TRUTH["res_ohm"] / (1.0 + 1j * stiffer_q * detuning)
    boxed = fitted_driver(FREQUENCY_HZ, noisy(boxed_ohm, rng), PEAK)
    box = closed_box(free.fs_hz, free.qts, boxed.fs_hz, boxed.qts)
    for found, truth in ((box.compliance_ratio, 2.2), (box.qtc_excess_ratio, 0.0)):
        assert abs(found.value - truth) < 4.0 * found.standard_uncertainty
    assert box.compliance_ratio.standard_uncertainty < 0.01


def test_a_resistor_is_no_driver() -> None:
    z_ohm = noisy(np.full(FREQUENCY_HZ.size, 8.0 + 0j), np.random.default_rng(5))
    with pytest.raises(NoSignalError, match="no driver"):
        fitted_driver(FREQUENCY_HZ, z_ohm, PEAK)


def test_a_blocked_cone_is_no_driver() -> None:
    z_ohm = 5.8 + 0.021 * (2j * np.pi * FREQUENCY_HZ) ** 0.68
    with pytest.raises(NoSignalError, match="no driver"):
        fitted_driver(FREQUENCY_HZ, z_ohm, PEAK)


def test_a_band_without_points_finds_no_driver() -> None:
    z_ohm = truth_ohm("moving_coil", FREQUENCY_HZ)
    with pytest.raises(NoSignalError, match="no driver"):
        fitted_driver(FREQUENCY_HZ, z_ohm, ResonancePlan(1.0, 10.0))


def test_what_is_no_impedance_is_refused() -> None:
    z_ohm = truth_ohm("moving_coil", FREQUENCY_HZ)
    with pytest.raises(ValueError, match="two shapes"):
        fitted_driver(FREQUENCY_HZ, z_ohm[:-1], PEAK)
    with pytest.raises(ValueError, match="rising"):
        fitted_driver(FREQUENCY_HZ[::-1], z_ohm, PEAK)
    with pytest.raises(ValueError, match="nowhere zero"):
        fitted_driver(FREQUENCY_HZ, 0.0 * z_ohm, PEAK)
    with pytest.raises(ValueError, match="12 points"):
        fitted_driver(FREQUENCY_HZ[:8], z_ohm[:8], PEAK)
    with pytest.raises(ValueError, match="cannot fix"):
        relative_fit(lambda p: (z_ohm[:2], z_ohm[:2, None]), z_ohm[:2], np.zeros(4))
