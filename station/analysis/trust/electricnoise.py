"""How far the noise of the voltage and the current input moves what is read from the impedance."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft

from station.analysis.arrays import ComplexArray, FloatArray, read_only
from station.analysis.electric.impedance import ImpedanceResult
from station.analysis.electric.resonance import ResonanceResult
from station.analysis.recording import Recording
from station.analysis.signals.noisedensity import NoiseDensity, noise_density
from station.analysis.signals.spectra import Spectra
from station.analysis.signals.transfer import Gate, pre_window

GATE_POINTS = 2048  # over the transform's length; half as many bins apart noise is independent


@dataclass(frozen=True, slots=True, eq=False)
class ElectricNoise:
    """What the admittance of a recording holds of noise.

    Parameters
    ----------
    voltage, current : NoiseDensity
        In V² and A² a Hz.
    spectra : Spectra
        Of the recording.
    open_s : float
        Integral of the squared gate: noise power passes in proportion to it.
    ties : ndarray, shape (k,)
        Correlation of the noise in two bins that stand 0, 1, 2 ... bins apart; the last is zero.
    """

    voltage: NoiseDensity
    current: NoiseDensity
    spectra: Spectra
    open_s: float
    ties: ComplexArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "ties", read_only(self.ties))

    def spread_of(
        self, frequency_hz: FloatArray, z_ohm: ComplexArray, per_ohm: ComplexArray
    ) -> float:
        """Return the standard deviation of the sum of Re(per_ohm dZ) over bins, or NaN.

        Y = I/V moves by (dI - Y dV)/V, and Z by -Z² dY. The gate lets a share of the noise pass,
        and ties neighbouring bins by the transform of its square.
        """
        bins = np.rint(frequency_hz / self.spectra.step_hz).astype(np.intp)
        drive = np.abs(self.spectra.by_role["voltage"][bins]) ** 2
        if not drive.all():
            return math.nan
        size = np.abs(z_ohm) ** 2
        density = self.current.at(frequency_hz) + self.voltage.at(frequency_hz) / size
        passed = 0.5 * density * self.spectra.sweep.rate_hz**2 * self.open_s / drive
        weights = -per_ohm * z_ohm**2 * np.sqrt(passed)
        apart = np.subtract.outer(bins, bins)
        ties = self.ties[np.minimum(np.abs(apart), self.ties.size - 1)]
        np.conjugate(ties, out=ties, where=apart < 0)
        variance = 0.5 * float((weights @ ties @ weights.conj()).real)
        return math.sqrt(max(variance, 0.0))


def electric_noise(recording: Recording, spectra: Spectra, gate_s: float) -> ElectricNoise:
    """Return the noise of the two electrical inputs, as the lead-in holds it.

    Parameters
    ----------
    recording : Recording
        With voltage and current.
    spectra : Spectra
        Its spectra.
    gate_s : float
        Gate of the admittance.

    Returns
    -------
    ElectricNoise
        Taken as the same while the sweep plays: an input whose noise rises with its signal has
        more than this says.

    Raises
    ------
    NoSignalError
        If the lead-in is too short to hear noise in it.
    KeyError
        If a channel is absent.

    References
    ----------
    .. [1] Bendat, Piersol, Random Data, 4th ed., section 5.2, on spectra of finite transforms.
    """
    gate = Gate(0.0, pre_window(spectra.sweep, "current"), gate_s)
    step_s = 1.0 / spectra.step_hz / GATE_POINTS
    time_s = np.arange(GATE_POINTS, dtype=np.float64) * step_s - gate.before_s
    square = gate.weights(time_s) ** 2
    lags = np.arange(GATE_POINTS // 2)
    ties = scipy.fft.fft(square)[lags] / float(square.sum())
    ties *= np.exp(2j * np.pi * lags * (spectra.step_hz * gate.before_s))
    ties[-1] = 0.0
    return ElectricNoise(
        noise_density(recording, "voltage"),
        noise_density(recording, "current"),
        spectra,
        float(square.sum()) * step_s,
        ties,
    )


def resonance_uncertainty_hz(
    noise: ElectricNoise, measured: ImpedanceResult, found: ResonanceResult
) -> float:
    """Return the standard uncertainty that noise gives the resonance frequency.

    Parameters
    ----------
    noise : ElectricNoise
        Of the recording.
    measured : ImpedanceResult
        The impedance it was read from.
    found : ResonanceResult
        The resonance, with its slope by each bin.

    Returns
    -------
    float
        In Hz: noise alone, to the first order. What the model leaves is not in it.

    Raises
    ------
    ValueError
        Not raised.

    References
    ----------
    .. [1] JCGM 100:2008, 5.2.2, eq. (13): correlated inputs.
    """
    places = np.searchsorted(measured.z_frequency_hz, found.frequency_hz)
    return noise.spread_of(found.frequency_hz, measured.z_ohm[places], found.fs_per_ohm)


def minimum_uncertainty_ohm(noise: ElectricNoise, measured: ImpedanceResult) -> float:
    """Return the standard uncertainty that noise gives the lowest |Z|.

    Parameters
    ----------
    noise : ElectricNoise
        Of the recording.
    measured : ImpedanceResult
        With its minimum.

    Returns
    -------
    float
        In Ω: that of the parabola's value where it is lowest, whose slope there is zero.

    Raises
    ------
    ValueError
        Not raised.

    References
    ----------
    .. [1] JCGM 100:2008, 5.2.2, eq. (13): correlated inputs.
    """
    bins = measured.minimum.bins
    return noise.spread_of(
        measured.z_frequency_hz[bins], measured.z_ohm[bins], measured.minimum.per_ohm
    )
