"""What the linear response does not explain, pulled apart in time by the inverse sweep."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft

from station.analysis.arrays import FloatArray
from station.analysis.signals.spectra import Spectra, even_fast_length, inverse_sweep
from station.analysis.signals.transfer import Transfer
from station.errors import NoSignalError

TAPER_OCTAVES = 1.0 / 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Residual:
    """The deconvolved residual of the microphone: order n arrives L ln(n) before the direct sound.

    The array is made read-only without a copy, like those of Spectra.

    Parameters
    ----------
    impulse_pa : ndarray, shape (m,)
        Periodic in time; its transform is that of the residual times the inverse sweep.
    step_s : float
        Time from one value to the next; longer than a sample if only low frequencies were kept.
    direct_s : float
        When the direct sound stands in it, counted from its first value.
    """

    impulse_pa: FloatArray
    step_s: float
    direct_s: float

    def __post_init__(self) -> None:
        self.impulse_pa.flags.writeable = False


def deconvolved_residual(spectra: Spectra, response: Transfer, to_hz: float) -> Residual:
    """Return the microphone signal without its linear part, times the analytic inverse sweep.

    Parameters
    ----------
    spectra : Spectra
        Of a recording with a microphone.
    response : Transfer
        The microphone's gated response to the voltage.
    to_hz : float
        Kept whole up to here; a raised cosine of a third of an octave ends it.

    Returns
    -------
    Residual
        What the gated response times the measured voltage leaves, so that distortion of the
        amplifier, which the voltage channel hears, is not laid on the unit.

    Raises
    ------
    NoSignalError
        If the recording is shorter than the sweep: early and late arrivals would overlap.
    ValueError
        If `to_hz` is not above zero, or there is no microphone.

    References
    ----------
    .. [1] Farina, AES 108th Convention, 2000, preprint 5093.
    .. [2] Novak, Lotton, Simon, J. Audio Eng. Soc. 63(10), 2015, section 3.
    """
    if to_hz <= 0.0 or "microphone" not in spectra.by_role:
        raise ValueError(f"need a microphone and a frequency above zero; got {to_hz} Hz")
    if spectra.n < spectra.sweep.sweep_samples:
        raise NoSignalError("The recording is shorter than the sweep.", "Measure again.")
    ended_hz = to_hz * 2.0**TAPER_OCTAVES
    bins = min(math.ceil(ended_hz / spectra.step_hz) + 1, spectra.frequency_hz.size)
    spectrum = response.values[:bins] * spectra.by_role["voltage"][:bins]
    np.subtract(spectra.by_role["microphone"][:bins], spectrum, out=spectrum)
    spectrum *= inverse_sweep(spectra.sweep, spectra.n)[:bins]
    tapered = math.floor(to_hz / spectra.step_hz)
    if tapered < bins:
        octaves_left = np.log2(ended_hz / spectra.frequency_hz[tapered:bins].clip(spectra.step_hz))
        share = np.clip(octaves_left / TAPER_OCTAVES, 0.0, 1.0)
        spectrum[tapered:] *= np.sin(0.5 * np.pi * share) ** 2
    length = min(even_fast_length(2 * bins), spectra.n)
    return Residual(
        scipy.fft.irfft(spectrum, length, overwrite_x=True),
        spectra.n / spectra.sweep.rate_hz / length,
        spectra.start_s + response.delay_s,
    )
