from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.analysis.electric.driverphysics import (
    closed_box,
    electrical_equivalents,
    rated_impedance_margin_ohm,
)
from station.analysis.statistics.uncertainty import Estimate
from tests.ngspice.truth import saved


def test_equivalents_make_the_impedance_of_the_mechanical_circuit() -> None:
    # moving_coil.cir holds the same driver as a mechanical circuit behind a gyrator.
    motion = electrical_equivalents(7.4, 19.5e-3, 0.62e-3, 1.35)
    frequency_hz, z_ohm = saved("moving_coil")
    omega = 2j * np.pi * frequency_hz
    admittance_s = 1.0 / motion.res_ohm + 1.0 / (omega * motion.lces_h) + omega * motion.cmes_f
    expected_ohm = 5.8 + 0.021 * omega**0.68 + 1.0 / admittance_s
    # Nine digits were saved; the deck moves the coil's frequency by 1e-9 Hz.
    np.testing.assert_allclose(expected_ohm, z_ohm, rtol=1e-7)


def test_mass_and_compliance_of_one_make_one_radian_a_second() -> None:
    motion = electrical_equivalents(1.0, 1.0, 1.0, 0.5)
    assert motion.fs_hz == pytest.approx(0.159155, rel=1e-5)  # 1 / 2 pi
    assert motion.qms == pytest.approx(2.0)  # sqrt(Mms / Cms) / Rms
    assert motion.qes(3.0) == pytest.approx(3.0)  # omega Mms Re / Bl^2


@given(
    st.floats(1.0, 30.0),
    st.floats(1e-3, 0.3),
    st.floats(1e-5, 1e-2),
    st.floats(0.1, 20.0),
)
def test_equivalents_resonate_where_the_mechanics_do(
    bl: float, mms_kg: float, cms_m_per_n: float, rms_kg_per_s: float
) -> None:
    motion = electrical_equivalents(bl, mms_kg, cms_m_per_n, rms_kg_per_s)
    # Thomson's formula for the circuit, and Q = R sqrt(C / L) for a parallel one.
    resonance_hz = 1.0 / (2.0 * math.pi * math.sqrt(motion.lces_h * motion.cmes_f))
    assert motion.fs_hz == pytest.approx(resonance_hz)
    assert motion.qms == pytest.approx(motion.res_ohm * math.sqrt(motion.cmes_f / motion.lces_h))


def test_an_octave_up_in_the_box_is_an_alpha_of_three() -> None:
    # Small, J. Audio Eng. Soc. 20(10), 1972: fc / fs = Qtc / Qts = sqrt(alpha + 1).
    exact = [Estimate(value, 0.01 * value) for value in (30.0, 0.35, 60.0, 0.70)]
    box = closed_box(*exact)
    assert box.compliance_ratio.value == pytest.approx(3.0)
    assert box.expected_qtc.value == pytest.approx(0.70)
    assert box.qtc_excess_ratio.value == pytest.approx(0.0, abs=1e-12)
    # Relative uncertainties of factors add in squares: sqrt(3) and sqrt(4) times 1 %, and the
    # square of fc / fs, 4, has twice that of fc / fs, 2 sqrt(2) %.
    assert box.expected_qtc.standard_uncertainty == pytest.approx(0.70 * 0.01732, rel=1e-3)
    assert box.qtc_excess_ratio.standard_uncertainty == pytest.approx(0.02, rel=1e-3)
    assert box.compliance_ratio.standard_uncertainty == pytest.approx(4.0 * 0.02828, rel=1e-3)


@pytest.mark.parametrize(
    ("lowest_ohm", "rated_ohm", "margin_ohm"),
    # IEC 60268-5: 80 % of 8 Ω is 6.4 Ω, of 4 Ω 3.2 Ω.
    [(6.4, 8.0, 0.0), (6.9, 8.0, 0.5), (3.0, 4.0, -0.2)],
)
def test_rated_impedance_allows_a_fifth_less(
    lowest_ohm: float, rated_ohm: float, margin_ohm: float
) -> None:
    assert rated_impedance_margin_ohm(lowest_ohm, rated_ohm) == pytest.approx(margin_ohm, abs=1e-12)


def test_values_of_zero_are_refused() -> None:
    with pytest.raises(ValueError, match="above zero"):
        electrical_equivalents(0.0, 1.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="above zero"):
        closed_box(*[Estimate(0.0, 1.0)] * 4)
    with pytest.raises(ValueError, match="above zero"):
        rated_impedance_margin_ohm(5.0, 0.0)
