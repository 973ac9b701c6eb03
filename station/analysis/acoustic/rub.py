"""Rub and buzz: the impulsive residual far above the excitation frequency."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from station.analysis.acoustic.residual import TAPER_OCTAVES, Residual, deconvolved_residual
from station.analysis.arrays import ComplexArray, FloatArray, read_only
from station.analysis.plan import RubPlan
from station.analysis.signals.bands import band_centres, band_edges
from station.analysis.signals.soundpressure import REFERENCE_PRESSURE_PA
from station.analysis.signals.spectra import Spectra, bin_frequencies, inverse_sweep
from station.analysis.signals.sweep import Sweep
from station.analysis.signals.transfer import Transfer
from station.errors import NoSignalError

BANDS_PER_OCTAVE = 3
# The tracking high-pass: nothing of the tenth harmonic passes, all of the eleventh does, half of
# the amplitude at 10.5 times the excitation frequency.
STOPPED_ORDER = 10.0
PASSED_ORDER = 11.0


@dataclass(frozen=True, slots=True, eq=False)
class RubResult:
    """Impulsive distortion by excitation frequency.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Excitation frequency: centres of third octaves.
    peak_db_spl : ndarray, shape (n,)
        Level of the largest instantaneous pressure, re 20 µPa, at 1 m.
    crest_db : ndarray, shape (n,)
        Peak over RMS within the third octave.
    """

    frequency_hz: FloatArray
    peak_db_spl: FloatArray
    crest_db: FloatArray

    def __post_init__(self) -> None:
        for name in ("frequency_hz", "peak_db_spl", "crest_db"):
            object.__setattr__(self, name, read_only(getattr(self, name)))


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """What is heard above the tenth harmonic while it is excited, as a waveform.

    The array is made read-only without a copy, like those of Spectra.

    Parameters
    ----------
    pressure_pa : ndarray, shape (n,)
        At the microphone; it starts with the recording, and its end runs on into its start.
    sweep : Sweep
        The stimulus.
    direct_s : float
        When the sweep's first sample arrives, counted from the recording's first sample.
    """

    pressure_pa: FloatArray
    sweep: Sweep
    direct_s: float

    def __post_init__(self) -> None:
        self.pressure_pa.flags.writeable = False

    def samples_between(self, from_hz: float, to_hz: float) -> NDArray[np.intp]:
        """Return which samples hear an excitation between two frequencies; one at least."""
        first = round((self.direct_s + self.sweep.time_of(from_hz)) * self.sweep.rate_hz)
        stop = round((self.direct_s + self.sweep.time_of(to_hz)) * self.sweep.rate_hz)
        return np.arange(first, max(stop, first + 1)) % self.pressure_pa.size


def rub_and_buzz(
    spectra: Spectra, response: Transfer, plan: RubPlan, distance_m: float
) -> RubResult:
    """Return peak and crest of what is heard above the tenth harmonic, while it is excited.

    Parameters
    ----------
    spectra : Spectra
        Of a recording with microphone and voltage.
    response : Transfer
        The microphone's gated response to the voltage, in Pa/V.
    plan : RubPlan
        Third octaves of excitation frequency, and the band in which the residual is heard; its
        edges fall off over a third of an octave outside.
    distance_m : float
        From unit to microphone; levels are referred to 1 m.

    Returns
    -------
    RubResult
        Peak in dB SPL as IEC 61672-1 defines a peak level (no factor of root two), crest in dB.

    Raises
    ------
    NoSignalError
        If nothing at all was heard, not even noise.
    ValueError
        If the distance is not positive, a band is not inside the sweep, or 11 times the highest
        excitation frequency does not stay below `heard_to_hz`: nothing could be heard there.

    Notes
    -----
    The residual of the linear response is deconvolved; only what arrives earlier than
    L ln(10.5) before the direct sound is kept, which is a high-pass at 10.5 times the
    excitation frequency of every instant; then the inverse sweep is undone. The recording is
    periodic for the transforms, so the earliest arrivals stand at its end, where the silence after
    the sweep leaves room for them.

    References
    ----------
    .. [1] IEC 60268-21, impulsive distortion.
    .. [2] IEC 61672-1, peak sound level.
    """
    if distance_m <= 0.0:
        raise ValueError(f"need a distance above zero; got {distance_m} m")
    heard = heard_sound(spectra, response, plan)
    centres_hz, lower_hz, upper_hz = third_octaves(plan)
    peak_pa = np.empty_like(centres_hz)
    rms_pa = np.empty_like(centres_hz)
    for index, (from_hz, to_hz) in enumerate(zip(lower_hz, upper_hz, strict=True)):
        during = heard.pressure_pa[heard.samples_between(from_hz, to_hz)]
        peak_pa[index] = np.max(np.abs(during))
        rms_pa[index] = math.sqrt(float(np.mean(during**2)))
    if not rms_pa.all():
        raise NoSignalError("The microphone heard nothing.", "Check its cable and its supply.")
    level_db = 20.0 * np.log10(peak_pa * distance_m / REFERENCE_PRESSURE_PA)
    return RubResult(centres_hz, level_db, 20.0 * np.log10(peak_pa / rms_pa))


def third_octaves(plan: RubPlan) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return centres, lower and upper edges of the bands of excitation frequency."""
    centres_hz = band_centres(plan.from_hz, plan.to_hz, BANDS_PER_OCTAVE)
    return (centres_hz, *band_edges(centres_hz, BANDS_PER_OCTAVE))


def heard_sound(spectra: Spectra, response: Transfer, plan: RubPlan) -> Heard:
    """Return what is heard above the tenth harmonic.

    Parameters
    ----------
    spectra : Spectra
        Of a recording with microphone and voltage.
    response : Transfer
        The microphone's gated response to the voltage, in Pa/V.
    plan : RubPlan
        As for `rub_and_buzz`, whose notes say how it is computed.

    Returns
    -------
    Heard
        In Pa at the microphone, as long as the transform.

    Raises
    ------
    NoSignalError
        If the recording is shorter than the sweep.
    ValueError
        If a band is not inside the sweep, or nothing could be heard above its eleventh harmonic.

    References
    ----------
    .. [1] IEC 60268-21, impulsive distortion.
    """
    _, lower_hz, upper_hz = third_octaves(plan)
    if PASSED_ORDER * upper_hz[-1] >= plan.heard_to_hz:
        raise ValueError(
            f"above {plan.heard_to_hz / PASSED_ORDER:.0f} Hz nothing lies between the eleventh "
            f"harmonic and {plan.heard_to_hz} Hz"
        )
    if lower_hz[0] < spectra.sweep.start_hz or upper_hz[-1] > spectra.sweep.stop_hz:
        raise ValueError(f"{plan.from_hz} to {plan.to_hz} Hz is not inside the sweep")
    residual = deconvolved_residual(spectra, response, plan.heard_to_hz)
    pressure_pa = undone(early_part(residual, spectra.sweep), spectra, plan)
    return Heard(pressure_pa, spectra.sweep, residual.direct_s)


def early_part(residual: Residual, sweep: Sweep) -> FloatArray:
    """Return the residual with only the arrivals of orders above the tenth, before the sweep's."""
    step_s = residual.step_s
    stopped_s = residual.direct_s - sweep.rate_s * math.log(STOPPED_ORDER)
    passed_s = residual.direct_s - sweep.rate_s * math.log(PASSED_ORDER)
    first = math.ceil((residual.direct_s - sweep.true_duration_s) / step_s)
    # Early arrivals stand at the end: turned so that the earliest comes first, they are in a row.
    early_pa = np.roll(residual.impulse_pa, -first)
    edge, stop = (math.ceil(instant_s / step_s) - first for instant_s in (passed_s, stopped_s))
    time_s = (first + np.arange(edge, stop)) * step_s
    early_pa[edge:stop] *= np.sin(0.5 * np.pi * (stopped_s - time_s) / (stopped_s - passed_s)) ** 2
    early_pa[stop:] = 0.0
    return np.roll(early_pa, first)


def undone(impulse_pa: FloatArray, spectra: Spectra, plan: RubPlan) -> FloatArray:
    """Return the pressure that a deconvolved signal stands for, in the band it is heard in."""
    spectrum = scipy.fft.rfft(impulse_pa, overwrite_x=True)
    heard = heard_sweep(spectra.sweep, spectra.n, plan.heard_from_hz, plan.heard_to_hz)
    heard_pa: FloatArray = scipy.fft.irfft(spectrum[: heard.size] * heard, spectra.n)
    return heard_pa


@lru_cache(maxsize=8)
def heard_sweep(sweep: Sweep, n: int, from_hz: float, to_hz: float) -> ComplexArray:
    """Return the sweep's analytic spectrum as far as it is heard; read-only."""
    bins = math.ceil(to_hz * 2.0**TAPER_OCTAVES / sweep.rate_hz * n)
    frequency_hz = bin_frequencies(sweep.rate_hz, n)[1:bins]
    inside = np.minimum(np.log2(frequency_hz / from_hz), np.log2(to_hz / frequency_hz))
    share = np.clip(1.0 + inside / TAPER_OCTAVES, 0.0, 1.0)
    heard: ComplexArray = np.zeros(frequency_hz.size + 1, dtype=np.complex128)
    heard[1:] = np.sin(0.5 * np.pi * share) ** 2 / inverse_sweep(sweep, n)[1 : heard.size]
    heard.flags.writeable = False
    return heard
