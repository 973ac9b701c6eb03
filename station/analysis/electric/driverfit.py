"""Parameters of a moving-coil driver, fitted to the impedance at its own terminals."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.electric.resonance import resonant_share
from station.analysis.plan import ResonancePlan
from station.analysis.statistics.complexfit import Fit, check_impedance, real_parts, relative_fit
from station.analysis.statistics.uncertainty import Estimate
from station.errors import NoSignalError

FEWEST_POINTS = 12
TRIED_Q = (0.7, 1.5, 3.0, 6.0, 12.0, 24.0)
TRIED_EXPONENTS = (0.5, 0.75, 1.0)
# There is a motion if a fit with it leaves less than half of what a fit without it leaves.
UNEXPLAINED_RATIO = 0.5
LARGEST_LOGARITHM = 30.0  # where the fit is stopped from running away
LARGEST_EXPONENT = 3.0


@dataclass(frozen=True, slots=True)
class DriverFit:
    """What the impedance tells of a driver, each with its standard uncertainty.

    Attributes
    ----------
    re_ohm : Estimate
        Resistance of the voice coil.
    fs_hz : Estimate
        Resonance frequency; of a driver in its closed box, this is fc.
    qms, qes, qts : Estimate
        Mechanical, electrical and total quality factor; of a driver in its box, Qmc, Qec and Qtc.
    res_ohm : Estimate
        Resistance by which the peak at resonance stands above `re_ohm`.
    coil_ohm : Estimate
        K of the lossy coil's K (jω)^n, in Ω s^n.
    coil_exponent : Estimate
        n of the lossy coil: 1 for an inductance, 0.5 for eddy currents in thick iron.
    residual_ratio : float
        What the model leaves unexplained, relative to |Z|.
    """

    re_ohm: Estimate
    fs_hz: Estimate
    qms: Estimate
    qes: Estimate
    qts: Estimate
    res_ohm: Estimate
    coil_ohm: Estimate
    coil_exponent: Estimate
    residual_ratio: float


def fitted_driver(frequency_hz: FloatArray, z_ohm: ComplexArray, peak: ResonancePlan) -> DriverFit:
    """Return the parameters of a driver from its impedance.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, n >= 12; best even over log frequency, from an octave below the resonance up to
        where the coil shows.
    z_ohm : ndarray, shape (n,)
        Complex impedance at the driver's own terminals, no crossover between.
    peak : ResonancePlan
        The band that holds the resonance peak and nothing higher.

    Returns
    -------
    DriverFit
        Least squares of Z = Re + K (jω)^n + Res / (1 + j Qms (f/fs - fs/f)), relative to |Z|.

    Raises
    ------
    ValueError
        If the shapes disagree, frequencies do not rise, or there are fewer than 12 points.
    NoSignalError
        If |Z| has no peak in the band, or no motion with positive parameters explains it.

    Notes
    -----
    The uncertainties are those of the noise in the measurement and of what the model does not
    explain, as far as it looks like noise; they hold nothing of the calibration.

    References
    ----------
    .. [1] Small, J. Audio Eng. Soc. 20(5), 1972, "Direct-Radiator Loudspeaker System Analysis".
    .. [2] Leach, J. Audio Eng. Soc. 50(6), 2002, "Loudspeaker Voice-Coil Inductance Losses".
    """
    check_impedance(frequency_hz, z_ohm)
    if frequency_hz.size < FEWEST_POINTS:
        raise ValueError(f"need {FEWEST_POINTS} points or more; got {frequency_hz.size}")
    model = DriverModel.of(frequency_hz, peak_frequency_hz(frequency_hz, z_ohm, peak))
    start, without_motion = model.start(z_ohm)
    fit = relative_fit(model.impedance, z_ohm, start)
    if not np.all(np.abs(fit.parameters) < LARGEST_LOGARITHM):
        raise no_motion()
    explained = fit.residual_ratio * math.sqrt(fit.degrees_of_freedom)
    fs_hz = model.peak_hz * math.exp(fit.parameters[4])
    if not explained < UNEXPLAINED_RATIO * without_motion or not peak.from_hz < fs_hz < peak.to_hz:
        raise no_motion()
    return driver_of(model, fit)


@dataclass(frozen=True, slots=True, eq=False)
class DriverModel:
    """The impedance as a function of ln Re, ln A, n, ln Res, ln (fs / peak) and ln Qms.

    A is the coil's magnitude at `coil_hz` within the measured band: unlike K it does not change
    by orders of magnitude with n, so that the fit can tell the two apart.
    """

    frequency: FloatArray  # over peak_hz
    log_coil_frequency: ComplexArray  # ln (jf / coil_hz)
    peak_hz: float
    coil_hz: float

    @classmethod
    def of(cls, frequency_hz: FloatArray, peak_hz: float) -> DriverModel:
        """Return the model on these frequencies."""
        coil_hz = math.sqrt(peak_hz * float(frequency_hz[-1]))
        return cls(frequency_hz / peak_hz, np.log(1j * frequency_hz / coil_hz), peak_hz, coil_hz)

    def impedance(self, parameters: FloatArray) -> tuple[ComplexArray, ComplexArray]:
        """Return the impedance and its derivatives by each parameter."""
        logs = np.clip(parameters, -LARGEST_LOGARITHM, LARGEST_LOGARITHM)
        re_ohm, at_coil_ohm, _, res_ohm, fs, q = np.exp(logs)
        exponent = float(np.clip(parameters[2], -LARGEST_EXPONENT, LARGEST_EXPONENT))
        detuning = self.frequency / fs
        share = resonant_share(detuning, q)
        coil = at_coil_ohm * np.exp(exponent * self.log_coil_frequency)
        motion = res_ohm * share
        slope = motion * share
        derivatives = [
            np.full_like(coil, re_ohm),
            coil,
            coil * self.log_coil_frequency,
            motion,
            slope * 1j * q * (detuning + 1.0 / detuning),
            slope * 1j * q * (1.0 / detuning - detuning),
        ]
        return re_ohm + coil + motion, np.stack(derivatives, axis=1)

    def start(self, z_ohm: ComplexArray) -> tuple[FloatArray, float]:
        """Return where to begin, and what the best fit without a motion leaves.

        Re, A and Res enter the impedance as factors, so for each tried Q and n the best of them
        follow without iteration.
        """
        size_ohm = np.abs(z_ohm)
        wanted = real_parts(z_ohm / size_ohm)
        flat = np.ones_like(z_ohm)
        best: tuple[float, FloatArray | None] = (math.inf, None)
        without = math.inf
        for exponent in TRIED_EXPONENTS:
            coil = np.exp(np.complex128(exponent) * self.log_coil_frequency)
            without = min(without, left_by([flat, coil], size_ohm, wanted)[0])
            for q in TRIED_Q:
                motion = resonant_share(self.frequency, q)
                left, weights = left_by([flat, coil, motion], size_ohm, wanted)
                if left < best[0] and np.all(weights > 0.0):
                    re_ohm, coil_ohm, res_ohm = np.log(weights)
                    best = left, np.array([re_ohm, coil_ohm, exponent, res_ohm, 0.0, math.log(q)])
        if best[1] is None:
            raise no_motion()
        return best[1], without


def left_by(
    columns: list[ComplexArray], size_ohm: FloatArray, wanted: FloatArray
) -> tuple[float, FloatArray]:
    """Return what the best weighted sum of some impedances leaves, and its weights."""
    matrix = np.stack([real_parts(column / size_ohm) for column in columns], axis=1)
    weights: FloatArray = np.linalg.lstsq(matrix, wanted)[0].astype(np.float64)
    return float(np.linalg.norm(matrix @ weights - wanted)), weights


def driver_of(model: DriverModel, fit: Fit) -> DriverFit:
    """Return the fitted parameters in their own terms, with their uncertainties."""
    re, at_coil, exponent, res, fs, q = fit.parameters
    damping = math.exp(res) / (math.exp(re) + math.exp(res))  # of d ln Qts / d ln Re
    coil_octaves = math.log(2.0 * math.pi * model.coil_hz)
    # Each row: a logarithm of the result as a sum of the parameters, or its slope for Qts.
    rows = {
        "re_ohm": (re, [1, 0, 0, 0, 0, 0]),
        "fs_hz": (fs + math.log(model.peak_hz), [0, 0, 0, 0, 1, 0]),
        "qms": (q, [0, 0, 0, 0, 0, 1]),
        "qes": (q + re - res, [1, 0, 0, -1, 0, 1]),
        "qts": (q + math.log(1.0 - damping), [damping, 0, 0, -damping, 0, 1]),
        "res_ohm": (res, [0, 0, 0, 1, 0, 0]),
        "coil_ohm": (at_coil - exponent * coil_octaves, [0, 1, -coil_octaves, 0, 0, 0]),
    }
    estimates = {
        name: estimate_of_logarithm(logarithm, np.array(slope, dtype=np.float64), fit)
        for name, (logarithm, slope) in rows.items()
    }
    coil_exponent = Estimate(
        float(exponent), math.sqrt(fit.covariance[2, 2]), fit.degrees_of_freedom
    )
    return DriverFit(**estimates, coil_exponent=coil_exponent, residual_ratio=fit.residual_ratio)


def estimate_of_logarithm(logarithm: float, slope: FloatArray, fit: Fit) -> Estimate:
    """Return a value from its logarithm and the logarithm's slope by each parameter."""
    value = math.exp(logarithm)
    spread = math.sqrt(float(slope @ fit.covariance @ slope))
    return Estimate(value, value * spread, fit.degrees_of_freedom)


def peak_frequency_hz(frequency_hz: FloatArray, z_ohm: ComplexArray, peak: ResonancePlan) -> float:
    """Return where |Z| peaks inside the band; raise NoSignalError if it does not."""
    first, stop = np.searchsorted(frequency_hz, (peak.from_hz, peak.to_hz))
    magnitude_ohm = np.abs(z_ohm[first:stop])
    if magnitude_ohm.size == 0:
        raise no_motion()
    highest = int(np.argmax(magnitude_ohm))
    if highest in (0, magnitude_ohm.size - 1):
        raise no_motion()
    return float(frequency_hz[first + highest])


def no_motion() -> NoSignalError:
    """Return the error of an impedance without a driver's resonance."""
    return NoSignalError(
        "The impedance shows no driver that moves.",
        "Check that the driver is connected and that its cone moves freely.",
    )
