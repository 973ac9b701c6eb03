"""An electrostatic panel behind its step-up transformer, fitted to the impedance at the primary."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.electric.panelphysics import PanelCircuit, no_panel
from station.analysis.statistics.complexfit import Fit, check_impedance, real_parts, relative_fit
from station.analysis.statistics.covariance import propagated_covariance, sensitivities
from station.analysis.statistics.uncertainty import Estimate

FEWEST_POINTS = 8
# There is a panel if a fit with it leaves less than half of what a resistor leaves.
UNEXPLAINED_RATIO = 0.5
LARGEST_LOGARITHM = 60.0  # where the fit is stopped from running away


@dataclass(frozen=True, slots=True)
class PanelFit:
    """What the impedance tells of a panel, each with its standard uncertainty.

    Attributes
    ----------
    residual_ratio : float
        What the model leaves unexplained, relative to |Z|.
    resistance_ohm : Estimate
        In series: copper of both windings as seen at the primary.
    leakage_h : Estimate
        Leakage inductance of the transformer at the primary.
    primary_f : Estimate
        Capacitance of the panel as seen at the primary.
    panel_f : Estimate
        Capacitance of the panel itself.
    shunt_siemens : Estimate
        Conductance across `primary_f`: damper, leakage and losses.
    minimum_hz, minimum_ohm : Estimate
        Where the fitted |Z| is lowest, and how low.
    inductive_above_hz : Estimate
        Above this frequency the impedance is inductive.
    """

    residual_ratio: float
    resistance_ohm: Estimate
    leakage_h: Estimate
    primary_f: Estimate
    panel_f: Estimate
    shunt_siemens: Estimate
    minimum_hz: Estimate
    minimum_ohm: Estimate
    inductive_above_hz: Estimate


def fitted_panel(frequency_hz: FloatArray, z_ohm: ComplexArray, turns_ratio: float) -> PanelFit:
    """Return the parameters of a panel from the impedance at its transformer's primary.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, n >= 8: the band above the crossover, with the minimum of |Z| inside.
    z_ohm : ndarray, shape (n,)
        Complex impedance.
    turns_ratio : float
        Turns of the secondary over those of the primary.

    Returns
    -------
    PanelFit
        Least squares of Z = R + jωL + 1 / (G + jωC + 1 / jωM), relative to |Z|.

    Raises
    ------
    ValueError
        If the shapes disagree, frequencies do not rise, there are fewer than 8 points, or the
        turns ratio is not above zero.
    NoSignalError
        If no capacitance behind an inductance explains the impedance, or its minimum lies
        outside the band.

    Notes
    -----
    The inductance M across the panel stands for the magnetizing current: left out, it made C
    0.2 % low from 5 kHz upwards, seven times the noise. It takes up a woofer's branch as well,
    but not a capacitor in series, which stays in the figures, the same for every unit.

    References
    ----------
    .. [1] Baxandall, "Electrostatic Loudspeakers", in Borwick (ed.), Loudspeaker and Headphone
       Handbook, on the transformer: a capacitance C behind 1:N is C N² at the primary.
    """
    check_impedance(frequency_hz, z_ohm)
    if frequency_hz.size < FEWEST_POINTS or not turns_ratio > 0.0:
        raise ValueError(
            f"need {FEWEST_POINTS} points and a turns ratio above zero; got "
            f"{frequency_hz.size} and {turns_ratio}"
        )
    model = PanelModel(2.0 * np.pi * frequency_hz)
    start, of_resistor = model.start(z_ohm)
    fit = relative_fit(model.impedance, z_ohm, start)
    if not np.all(np.abs(fit.parameters[1:3]) < LARGEST_LOGARITHM):
        raise no_panel()
    explained = fit.residual_ratio * math.sqrt(fit.degrees_of_freedom)
    if not explained < UNEXPLAINED_RATIO * of_resistor:
        raise no_panel()
    return panel_of(fit, turns_ratio, (float(frequency_hz[0]), float(frequency_hz[-1])))


@dataclass(frozen=True, slots=True, eq=False)
class PanelModel:
    """The impedance as a function of R, ln L, ln C, G and 1/M."""

    angular_hz: FloatArray

    def impedance(self, parameters: FloatArray) -> tuple[ComplexArray, ComplexArray]:
        """Return the impedance and its derivatives by each parameter."""
        leakage_h, primary_f = np.exp(
            np.clip(parameters[1:3], -LARGEST_LOGARITHM, LARGEST_LOGARITHM)
        )
        inductor = 1j * self.angular_hz * leakage_h
        susceptance = 1j * self.angular_hz * primary_f
        magnetizing = 1.0 / (1j * self.angular_hz)
        panel = 1.0 / (parameters[3] + susceptance + parameters[4] * magnetizing)
        slope = -(panel**2)
        derivatives = [
            np.ones_like(panel),
            inductor,
            slope * susceptance,
            slope,
            slope * magnetizing,
        ]
        return parameters[0] + inductor + panel, np.stack(derivatives, axis=1)

    def start(self, z_ohm: ComplexArray) -> tuple[FloatArray, float]:
        """Return where to begin, and what the best resistor leaves.

        Without losses the impedance is a weighted sum of 1, jω and 1/jω, which needs no iteration.
        """
        size_ohm = np.abs(z_ohm)
        omega = 1j * self.angular_hz
        weighted = np.stack([omega**power / size_ohm for power in (0, 1, -1)], axis=1)
        matrix = real_parts(weighted)
        # Columns of like size: 1/jω of 20 kHz is ten orders below jω.
        scale = np.linalg.norm(matrix, axis=0)
        wanted = real_parts(z_ohm / size_ohm)
        resistance_ohm, leakage_h, elastance = np.linalg.lstsq(matrix / scale, wanted)[0] / scale
        if not min(leakage_h, elastance) > 0.0:
            raise no_panel()
        resistor = matrix[:, 0]
        left = wanted - resistor * (resistor @ wanted) / scale[0] ** 2
        start = np.array([resistance_ohm, math.log(leakage_h), -math.log(elastance), 0.0, 0.0])
        return start, float(np.linalg.norm(left))


def results(parameters: FloatArray, turns_ratio: float, band_hz: tuple[float, float]) -> FloatArray:
    """Return R, L, C, panel, G, frequency and value of the minimum, and where Z turns inductive."""
    leakage_h, primary_f = (float(value) for value in np.exp(parameters[1:3]))
    resistance_ohm, shunt_siemens, inverse_h = (float(value) for value in parameters[[0, 3, 4]])
    circuit = PanelCircuit(resistance_ohm, leakage_h, primary_f, shunt_siemens, inverse_h)
    minimum_hz, minimum_ohm = circuit.minimum(*band_hz)
    return np.array(
        [
            resistance_ohm,
            leakage_h,
            primary_f,
            primary_f / turns_ratio**2,
            shunt_siemens,
            minimum_hz,
            minimum_ohm,
            circuit.inductive_above_hz(*band_hz),
        ]
    )


def panel_of(fit: Fit, turns_ratio: float, band_hz: tuple[float, float]) -> PanelFit:
    """Return the results with the uncertainties that the fit's covariance gives them."""

    def computed(parameters: FloatArray) -> FloatArray:
        return results(parameters, turns_ratio, band_hz)

    spreads = np.sqrt(np.diag(fit.covariance))
    slopes = sensitivities(computed, fit.parameters, spreads)
    result_spreads = np.sqrt(np.diag(propagated_covariance(slopes, fit.covariance)))
    estimates = [
        Estimate(float(value), float(spread), fit.degrees_of_freedom)
        for value, spread in zip(computed(fit.parameters), result_spreads, strict=True)
    ]
    return PanelFit(fit.residual_ratio, *estimates)
