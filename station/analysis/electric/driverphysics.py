"""A moving-coil driver in closed form: electrical equivalents, the closed box, rated impedance."""

from __future__ import annotations

import math
from dataclasses import dataclass

from station.analysis.statistics.uncertainty import Estimate, combined

RATED_SHARE = 0.8  # IEC 60268-5: the lowest |Z| is not less than 80 % of the rated impedance


@dataclass(frozen=True, slots=True)
class ElectricalEquivalents:
    """A driver's motion as a parallel circuit behind the voice coil.

    Attributes
    ----------
    lces_h : float
        Inductance that stands for the compliance.
    cmes_f : float
        Capacitance that stands for the mass.
    res_ohm : float
        Resistance that stands for the mechanical losses.
    fs_hz : float
        Resonance frequency.
    qms : float
        Mechanical quality factor.
    """

    lces_h: float
    cmes_f: float
    res_ohm: float
    fs_hz: float
    qms: float

    def qes(self, re_ohm: float) -> float:
        """Return the electrical quality factor with the coil's resistance."""
        return 2.0 * math.pi * self.fs_hz * self.cmes_f * re_ohm


def electrical_equivalents(
    bl_n_per_a: float, mms_kg: float, cms_m_per_n: float, rms_kg_per_s: float
) -> ElectricalEquivalents:
    """Return what a driver's motion looks like from its terminals.

    Parameters
    ----------
    bl_n_per_a : float
        Force factor in N/A, which is T m.
    mms_kg : float
        Moving mass with its air load.
    cms_m_per_n : float
        Compliance of the suspension.
    rms_kg_per_s : float
        Mechanical resistance.

    Returns
    -------
    ElectricalEquivalents
        Lces = Cms Bl², Cmes = Mms / Bl², Res = Bl² / Rms.

    Raises
    ------
    ValueError
        If a value is not above zero.

    References
    ----------
    .. [1] Small, J. Audio Eng. Soc. 20(5), 1972, "Direct-Radiator Loudspeaker System Analysis".
    """
    if not min(bl_n_per_a, mms_kg, cms_m_per_n, rms_kg_per_s) > 0.0:
        raise ValueError("need values above zero")
    square = bl_n_per_a**2
    angular_hz = 1.0 / math.sqrt(mms_kg * cms_m_per_n)
    return ElectricalEquivalents(
        lces_h=cms_m_per_n * square,
        cmes_f=mms_kg / square,
        res_ohm=square / rms_kg_per_s,
        fs_hz=angular_hz / (2.0 * math.pi),
        qms=angular_hz * mms_kg / rms_kg_per_s,
    )


@dataclass(frozen=True, slots=True)
class ClosedBox:
    """What a closed box makes of a driver.

    Attributes
    ----------
    compliance_ratio : Estimate
        Alpha: compliance of the suspension over that of the air in the box.
    expected_qtc : Estimate
        Total quality factor that the shift of the resonance makes of Qts.
    qtc_excess_ratio : Estimate
        Measured Qtc over the expected one, minus 1: below zero where the box leaks or its
        lining adds losses, above zero where the driver in it is not the one that was measured.
    """

    compliance_ratio: Estimate
    expected_qtc: Estimate
    qtc_excess_ratio: Estimate


def closed_box(fs_hz: Estimate, qts: Estimate, fc_hz: Estimate, qtc: Estimate) -> ClosedBox:
    """Return how a driver in its closed box compares with the same driver in free air.

    Parameters
    ----------
    fs_hz, qts : Estimate
        Resonance frequency and total quality factor in free air.
    fc_hz, qtc : Estimate
        The same in the box.

    Returns
    -------
    ClosedBox
        Alpha = (fc/fs)² - 1 and Qtc = Qts fc/fs, each with its uncertainty; the four inputs are
        taken as independent, and the moving mass as the same in both places.

    Raises
    ------
    ValueError
        If an input is not above zero.

    References
    ----------
    .. [1] Small, J. Audio Eng. Soc. 20(10), 1972, and 21(1), 1973, "Closed-Box Loudspeaker
       Systems", parts I and II.
    """
    inputs = (fs_hz, qts, fc_hz, qtc)
    if not min(estimate.value for estimate in inputs) > 0.0:
        raise ValueError("need frequencies and quality factors above zero")
    return ClosedBox(
        compliance_ratio=combined(lambda x: float((x[1] / x[0]) ** 2 - 1.0), (fs_hz, fc_hz)),
        expected_qtc=combined(lambda x: float(x[1] * x[2] / x[0]), (fs_hz, qts, fc_hz)),
        qtc_excess_ratio=combined(lambda x: float(x[3] * x[0] / (x[1] * x[2]) - 1.0), inputs),
    )


def rated_impedance_margin_ohm(lowest_ohm: float, rated_ohm: float) -> float:
    """Return how far the lowest impedance lies above what the rated one allows.

    Parameters
    ----------
    lowest_ohm : float
        Lowest |Z| in the rated frequency range.
    rated_ohm : float
        Rated impedance.

    Returns
    -------
    float
        In Ω; negative where the unit draws more current than its rating says.

    Raises
    ------
    ValueError
        If a value is not above zero.

    References
    ----------
    .. [1] IEC 60268-5, clause on rated impedance.
    """
    if not min(lowest_ohm, rated_ohm) > 0.0:
        raise ValueError(f"need values above zero; got {lowest_ohm} and {rated_ohm} Ω")
    return lowest_ohm - RATED_SHARE * rated_ohm
