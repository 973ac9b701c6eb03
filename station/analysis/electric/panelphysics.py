"""An electrostatic panel behind its step-up transformer, as a circuit."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import scipy.optimize

from station.errors import NoSignalError


@dataclass(frozen=True, slots=True)
class PanelCircuit:
    """Resistance and leakage inductance in series with a shunted capacitance, at the primary.

    Attributes
    ----------
    resistance_ohm, leakage_h : float
        In series.
    primary_f : float
        Capacitance of the panel at the primary.
    shunt_siemens, inverse_h : float
        Conductance, and reciprocal of the inductance, across that capacitance.
    """

    resistance_ohm: float
    leakage_h: float
    primary_f: float
    shunt_siemens: float
    inverse_h: float

    def impedance_ohm(self, at_hz: float) -> complex:
        """Return the impedance at one frequency."""
        s = 2j * math.pi * at_hz
        return self.resistance_ohm + s * self.leakage_h + 1.0 / self.admittance(s)

    def admittance(self, s: complex) -> complex:
        """Return the admittance of the shunted capacitance in S at a complex frequency."""
        return self.shunt_siemens + s * self.primary_f + self.inverse_h / s

    def minimum(self, from_hz: float, to_hz: float) -> tuple[float, float]:
        """Return where |Z| is lowest and how low; raise NoSignalError if not inside the band."""

        def steepness(at_hz: float) -> float:  # Re(conj(Z) dZ/dω), half the slope of |Z|²
            s = 2j * math.pi * at_hz
            slope = (self.primary_f - self.inverse_h / s**2) / self.admittance(s) ** 2
            return (self.impedance_ohm(at_hz).conjugate() * 1j * (self.leakage_h - slope)).real

        minimum_hz = rising_zero(steepness, from_hz, to_hz)
        return minimum_hz, abs(self.impedance_ohm(minimum_hz))

    def inductive_above_hz(self, from_hz: float, to_hz: float) -> float:
        """Return above what frequency Z is inductive; raise NoSignalError if not in the band."""
        return rising_zero(lambda at_hz: self.impedance_ohm(at_hz).imag, from_hz, to_hz)


def rising_zero(function: Callable[[float], float], from_hz: float, to_hz: float) -> float:
    """Return where a function rises through zero; raise NoSignalError if it does not."""
    if not function(from_hz) < 0.0 < function(to_hz):
        raise no_panel()
    return float(scipy.optimize.brentq(function, from_hz, to_hz))


def reflected_capacitance_f(panel_f: float, turns_ratio: float) -> float:
    """Return the capacitance that a panel shows at its transformer's primary.

    Parameters
    ----------
    panel_f : float
        Capacitance of the panel.
    turns_ratio : float
        Turns of the secondary over those of the primary.

    Returns
    -------
    float
        In F.

    Raises
    ------
    ValueError
        If a value is not above zero.

    References
    ----------
    .. [1] An ideal transformer 1:N divides impedances by N², so it multiplies capacitances by it.
    """
    if not min(panel_f, turns_ratio) > 0.0:
        raise ValueError(f"need values above zero; got {panel_f} F and {turns_ratio}")
    return panel_f * turns_ratio**2


def corner_hz(source_ohm: float, capacitance_f: float) -> float:
    """Return where a source's resistance and a capacitance let through half the power.

    Parameters
    ----------
    source_ohm : float
        Resistance in series with the capacitance.
    capacitance_f : float
        Capacitance that is driven.

    Returns
    -------
    float
        Frequency 3 dB down, in Hz.

    Raises
    ------
    ValueError
        If a value is not above zero.

    References
    ----------
    .. [1] First-order low-pass, f = 1 / (2 π R C).
    """
    if not min(source_ohm, capacitance_f) > 0.0:
        raise ValueError(f"need values above zero; got {source_ohm} Ω and {capacitance_f} F")
    return 1.0 / (2.0 * math.pi * source_ohm * capacitance_f)


def no_panel() -> NoSignalError:
    """Return the error of an impedance without a panel."""
    return NoSignalError(
        "The impedance shows no electrostatic panel behind its transformer.",
        "Check the leads to the panel and the transformer.",
    )
