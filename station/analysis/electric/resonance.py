"""Resonance frequency and quality factors of a driver, from its impedance."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.optimize

from station.analysis.arrays import ComplexArray, FloatArray, read_only
from station.analysis.electric.impedance import ImpedanceResult
from station.analysis.plan import ResonancePlan
from station.analysis.statistics.complexfit import real_parts
from station.errors import NoSignalError

FIT_OCTAVES = 0.5  # to either side of the peak
FIT_POINTS = 128
FEWEST_POINTS = 10
TRIED_Q = (1.0, 2.0, 4.0, 8.0, 16.0)
# There is a motion if a fit with it leaves less than half of what a fit without it leaves.
UNEXPLAINED_RATIO = 0.5
MOST_EVALUATIONS = 400  # a peak takes about 100; noise would go on for thousands
LARGEST_LOGARITHM = 10.0  # where the fit is stopped from running away


@dataclass(frozen=True, slots=True, eq=False)
class ResonanceResult:
    """A motional resonance behind a series resistance and inductance.

    Parameters
    ----------
    fs_hz : float
        Resonance frequency of the motion.
    qms : float
        Quality factor of the motion alone.
    qes, qts : float
        Electrical and total quality factor with `series_ohm` as the only electrical damping.
    peak_ohm : float
        Magnitude of the fitted impedance at `fs_hz`.
    series_ohm : float
        Resistance in series with the motion: a little above Re, by the losses of the coil.
    frequency_hz : ndarray, shape (m,)
        The bins it was fitted to.
    fs_per_ohm : ndarray, shape (m,)
        How a small change of Z in each bin moves fs, in Hz a Ω: the sum of the real parts of the
        products. Of a fit that leaves little.
    """

    fs_hz: float
    qms: float
    qes: float
    qts: float
    peak_ohm: float
    series_ohm: float
    frequency_hz: FloatArray
    fs_per_ohm: ComplexArray

    def __post_init__(self) -> None:
        for name in ("frequency_hz", "fs_per_ohm"):
            object.__setattr__(self, name, read_only(getattr(self, name)))


def resonance(measured: ImpedanceResult, plan: ResonancePlan) -> ResonanceResult:
    """Return the resonance whose impedance peak lies in a band.

    Parameters
    ----------
    measured : ImpedanceResult
        With every bin of the complex impedance.
    plan : ResonancePlan
        The band that holds this peak and no higher one.

    Returns
    -------
    ResonanceResult
        Least squares on complex Z half an octave to either side of the peak.

    Raises
    ------
    NoSignalError
        If |Z| has no peak in the band, or nothing like a resonance explains it.

    Notes
    -----
    The model is a parallel resonance behind a resistance, an inductance and a resistance that
    rises in proportion to frequency (the losses of a coil, around one frequency), and a
    capacitance across all of it. The capacitance stands for a passive crossover: without it the
    peak of |Z| itself reads the woofer of a two-way 2 % low. What the crossover hides otherwise
    stays in the result: behind a step-up transformer's winding the figure compares units, but is
    not the woofer's own to better than some per cent.

    References
    ----------
    .. [1] Small, J. Audio Eng. Soc. 20(5), 1972, "Direct-Radiator Loudspeaker System Analysis".
    .. [2] Leach, J. Audio Eng. Soc. 50(6), 2002, on the losses of the coil.
    .. [3] IEC 60268-22.
    """
    frequency_hz, z_ohm = between(measured, plan.from_hz, plan.to_hz)
    peak_hz = float(frequency_hz[interior_peak(np.abs(z_ohm))])
    reach = 2.0**FIT_OCTAVES
    frequency_hz, z_ohm = between(
        measured, max(plan.from_hz, peak_hz / reach), min(plan.to_hz, peak_hz * reach)
    )
    stride = max(1, math.ceil(frequency_hz.size / FIT_POINTS))
    scale_ohm = float(np.max(np.abs(z_ohm)))
    frequency_hz = frequency_hz[::stride]
    motion, log_fs_slope = fitted_motion(frequency_hz / peak_hz, z_ohm[::stride] / scale_ohm)
    fs_hz = peak_hz * motion.fs
    if motion.resistance <= 0.0 or motion.series <= 0.0 or not plan.from_hz < fs_hz < plan.to_hz:
        raise no_peak()
    qes = motion.q * motion.series / motion.resistance
    peak = np.abs(motion.impedance(np.array([motion.fs]))[0])
    return ResonanceResult(
        fs_hz=fs_hz,
        qms=motion.q,
        qes=qes,
        qts=motion.q * qes / (motion.q + qes),
        peak_ohm=float(peak) * scale_ohm,
        series_ohm=motion.series * scale_ohm,
        frequency_hz=frequency_hz,
        fs_per_ohm=log_fs_slope * (fs_hz / scale_ohm),
    )


@dataclass(frozen=True, slots=True)
class Motion:
    """The fitted model; frequencies relative to the peak's, impedances to the largest |Z|.

    Attributes
    ----------
    fs, q, resistance : float
        Of the parallel resonance.
    series, reactance, loss : float
        Resistance, inductive reactance and added loss at `fs`, the latter two rising with
        frequency.
    susceptance : float
        Of the capacitance across all, at `fs`.
    """

    fs: float
    q: float
    resistance: float
    series: float
    reactance: float
    loss: float
    susceptance: float

    def impedance(self, frequency: FloatArray) -> ComplexArray:
        """Return the model's impedance."""
        detuning = frequency / self.fs
        branch = self.resistance * resonant_share(detuning, self.q)
        branch += self.series + self.loss * (detuning - 1.0) + 1j * self.reactance * detuning
        return branch / (1.0 + 1j * self.susceptance * detuning * branch)


def resonant_share(detuning: FloatArray, q: float) -> ComplexArray:
    """Return the impedance of a parallel resonance relative to its resistance."""
    return np.asarray(1.0 / (1.0 + 1j * q * (detuning - 1.0 / detuning)), dtype=np.complex128)


def fitted_motion(frequency: FloatArray, z: ComplexArray) -> tuple[Motion, ComplexArray]:
    """Return the model that leaves the least squares, and the slope of its ln fs by each z.

    Raise NoSignalError if it explains little.
    """
    series = np.stack([np.ones_like(z), 1j * frequency, frequency - 1.0], axis=1)

    def left(values: FloatArray) -> FloatArray:
        return real_parts(motion_of(values).impedance(frequency) - z)

    def straight(columns: ComplexArray) -> tuple[float, FloatArray]:
        weights = np.asarray(
            np.linalg.lstsq(real_parts(columns), real_parts(z))[0], dtype=np.float64
        )
        return float(np.linalg.norm(columns @ weights - z)), weights

    tries = {q: straight(np.column_stack([resonant_share(frequency, q), series])) for q in TRIED_Q}
    best_q, (_, weights) = min(tries.items(), key=lambda item: item[1][0])
    start = np.array([0.0, math.log(best_q), *weights, 0.0])
    found = scipy.optimize.least_squares(left, start, method="lm", max_nfev=MOST_EVALUATIONS)
    if not np.linalg.norm(found.fun) < UNEXPLAINED_RATIO * straight(series)[0]:
        raise no_peak()
    real, imaginary = np.split(np.linalg.pinv(found.jac)[0], 2)
    return motion_of(found.x), real - 1j * imaginary


def motion_of(values: FloatArray) -> Motion:
    """Return the model from the vector that the fit moves; fs and Q as logarithms stay positive."""
    log_fs, log_q = np.clip(values[:2], -LARGEST_LOGARITHM, LARGEST_LOGARITHM)
    return Motion(math.exp(log_fs), math.exp(log_q), *(float(value) for value in values[2:]))


def between(
    measured: ImpedanceResult, from_hz: float, to_hz: float
) -> tuple[FloatArray, ComplexArray]:
    """Return the bins of a band; raise NoSignalError if they are too few."""
    first, stop = np.searchsorted(measured.z_frequency_hz, (from_hz, to_hz))
    if stop - first < FEWEST_POINTS:
        raise NoSignalError(
            f"The impedance has {stop - first} points from {from_hz:.0f} to {to_hz:.0f} Hz.",
            "Widen the band of the resonance, or use a longer sweep.",
        )
    return measured.z_frequency_hz[first:stop], measured.z_ohm[first:stop]


def interior_peak(magnitude_ohm: FloatArray) -> int:
    """Return the index of the largest value; raise NoSignalError if it stands at an end."""
    peak = int(np.argmax(magnitude_ohm))
    if peak in (0, magnitude_ohm.size - 1):
        raise no_peak()
    return peak


def no_peak() -> NoSignalError:
    """Return the error of an impedance without a resonance."""
    return NoSignalError(
        "The impedance has no peak where the resonance should be.",
        "Check that the driver is connected and moves freely.",
    )
