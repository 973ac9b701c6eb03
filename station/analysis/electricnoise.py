"""How far the noise of the voltage and the current input moves what is read from the impedance."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray, read_only
from station.analysis.impedance import ImpedanceResult
from station.analysis.noisedensity import NoiseDensity, noise_density
from station.analysis.recording import Recording
from station.analysis.resonance import ResonanceResult
from station.analysis.spectra import Spectra
from station.analysis.transfer import Gate, pre_window

GATE_POINTS = 256  # of the gate's square, for its transform
FURTHEST_CYCLES = 32.0  # over the gate's length: noise of bins further apart is independent


@dataclass(frozen=True, slots=True, eq=False)
class ElectricNoise:
    """What the admittance of a recording holds of noise.

    Parameters
    ----------
    voltage, current : NoiseDensity
        In V² and A² a Hz.
    spectra : Spectra
        Of the recording.
    time_s, square : ndarray, shape (k,)
        The square of the gate, sampled.
    """

    voltage: NoiseDensity
    current: NoiseDensity
    spectra: Spectra
    time_s: FloatArray
    square: FloatArray

    def __post_init__(self) -> None:
        for name in ("time_s", "square"):
            object.__setattr__(self, name, read_only(getattr(self, name)))

    def spread_of(
        self, frequency_hz: FloatArray, z_ohm: ComplexArray, per_ohm: ComplexArray
    ) -> float:
        """Return the standard deviation of the sum of Re(per_ohm dZ) over bins.

        Y = I/V moves by (dI - Y dV)/V, and Z by -Z² dY. The gate lets a share of the noise pass,
        and ties neighbouring bins by the transform of its square.
        """
        bins = np.rint(frequency_hz / self.spectra.step_hz).astype(np.intp)
        drive = np.abs(self.spectra.by_role["voltage"][bins]) ** 2
        density = self.current.at(frequency_hz) + self.voltage.at(frequency_hz) / np.abs(z_ohm) ** 2
        open_s = float(np.trapezoid(self.square, self.time_s))
        passed = 0.5 * density * self.spectra.sweep.rate_hz**2 * open_s / drive
        weights = -per_ohm * z_ohm**2 * np.sqrt(passed)
        variance = 0.5 * float((weights @ self._ties(frequency_hz) @ weights.conj()).real)
        return math.sqrt(max(variance, 0.0))

    def _ties(self, frequency_hz: FloatArray) -> ComplexArray:
        """Return the correlation of the noise between every two bins."""
        apart_hz = np.subtract.outer(frequency_hz, frequency_hz)
        different_hz, places = np.unique(np.round(apart_hz, 6), return_inverse=True)
        length_s = float(self.time_s[-1] - self.time_s[0])
        near = np.abs(different_hz) * length_s < FURTHEST_CYCLES
        ties = np.zeros(different_hz.size, dtype=np.complex128)
        turns = np.exp(-2j * np.pi * np.multiply.outer(different_hz[near], self.time_s))
        ties[near] = np.trapezoid(turns * self.square, self.time_s, axis=1)
        ties /= np.trapezoid(self.square, self.time_s)
        return np.asarray(ties[places].reshape(apart_hz.shape))


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
    time_s = np.linspace(-gate.before_s, gate.after_s, GATE_POINTS)
    return ElectricNoise(
        noise_density(recording, "voltage"),
        noise_density(recording, "current"),
        spectra,
        time_s,
        gate.weights(time_s) ** 2,
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
