"""What the noise before the sweep alone would read as harmonic distortion, and as rub and buzz."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import scipy.special

from station.analysis.acoustic.harmonics import (
    EDGE_RATIO,
    decibels,
    fundamental_power,
    harmonic_reach,
)
from station.analysis.acoustic.residual import TAPER_OCTAVES
from station.analysis.acoustic.rub import PASSED_ORDER, STOPPED_ORDER, third_octaves
from station.analysis.arrays import FloatArray
from station.analysis.plan import DistortionPlan, Reference, RubPlan
from station.analysis.readings import Curve
from station.analysis.signals.bands import band_centres, band_edges
from station.analysis.signals.noisedensity import NoiseDensity
from station.analysis.signals.soundpressure import REFERENCE_PRESSURE_PA
from station.analysis.signals.spectra import Spectra
from station.analysis.signals.transfer import Transfer

MEAN_OF_SINE_TO_THE_FOURTH = 3.0 / 8.0
STEPS_PER_OCTAVE = 24  # of the sum over the band in which rub and buzz are heard
SILENCE = float(np.finfo(np.float64).tiny)


def distortion_noise(
    density: NoiseDensity,
    spectra: Spectra,
    response: Transfer,
    plan: DistortionPlan,
    reference: Reference | None,
    distance_m: float,
) -> Mapping[str, Curve]:
    """Return the harmonic ratios that noise alone would make.

    Parameters
    ----------
    density : NoiseDensity
        Of the microphone, in Pa² a Hz.
    spectra : Spectra
        Of the recording.
    response : Transfer
        The microphone's gated response.
    plan : DistortionPlan
        Bands and orders.
    reference : Reference or None
        Of the reference unit: the noise is referred to its fundamental where the unit's own is
        weaker, for a unit that is silent is not a noisy room.
    distance_m : float
        From unit to microphone.

    Returns
    -------
    mapping of str to Curve
        "thd" and "h2" and so on, in dB like the readings themselves; NaN where they are.

    Raises
    ------
    NoSignalError
        If there is no fundamental in a band.

    Notes
    -----
    A noise of density S has the mean power S fs² T / 2 in a bin of a transform through a window
    whose squared integral is T; the inverse sweep multiplies it by 4 f / (L fs²).

    References
    ----------
    .. [1] Novak, Lotton, Simon, J. Audio Eng. Soc. 63(10), 2015, eq. (43), for the inverse sweep.
    .. [2] Bendat, Piersol, Random Data, 4th ed., section 5.2.
    """
    sweep = spectra.sweep
    centres_hz = band_centres(plan.from_hz, plan.to_hz, plan.bands_per_octave)
    lower_hz, upper_hz = band_edges(centres_hz, plan.bands_per_octave)
    fundamental = fundamental_power(spectra, response, lower_hz, upper_hz)
    if reference is not None:
        at, known = np.log(centres_hz), np.log(reference.frequency_hz)
        wanted = np.interp(at, known, np.abs(reference.response) ** 2)
        expected = 2.0 * (sweep.level_v / distance_m) ** 2 * wanted
        fundamental = np.maximum(fundamental, expected)
    ratios: dict[str, FloatArray] = {}
    for order in sorted(set(plan.orders)):
        at_hz = order * centres_hz
        share = 1.0 - EDGE_RATIO + EDGE_RATIO * MEAN_OF_SINE_TO_THE_FOURTH
        open_s = share * sum(harmonic_reach(sweep, order))
        power = 2.0 * density.at(at_hz) * at_hz * open_s / sweep.rate_s
        read = order * upper_hz <= sweep.stop_hz
        ratios[f"h{order}"] = np.where(read, power / fundamental, np.nan)
    stacked = np.stack(list(ratios.values()))
    total = np.where(np.isnan(stacked).all(axis=0), np.nan, np.nansum(stacked, axis=0))
    curves = {"thd": total, **ratios}
    return {name: Curve(centres_hz, decibels(power), "dB") for name, power in curves.items()}


def rub_noise(density: NoiseDensity, spectra: Spectra, plan: RubPlan, distance_m: float) -> Curve:
    """Return the peak level that steady noise alone would read as rub and buzz.

    Parameters
    ----------
    density : NoiseDensity
        Of the microphone, in Pa² a Hz.
    spectra : Spectra
        Of the recording.
    plan : RubPlan
        Excitation frequencies, and the band in which the residual is heard.
    distance_m : float
        From unit to microphone.

    Returns
    -------
    Curve
        In dB re 20 µPa at 1 m: the median of the largest of as many independent normal values as
        the time and the bandwidth of a third octave hold.

    Raises
    ------
    ValueError
        If no band lies between the plan's frequencies.

    References
    ----------
    .. [1] Slepian, Bell Syst. Tech. J. 55(3), 1976: a signal of bandwidth B lasting T has 2 B T
       degrees of freedom. The median of a largest value: order statistics.
    """
    centres_hz, lower_hz, upper_hz = third_octaves(plan)
    lasting_s = spectra.sweep.rate_s * np.log(upper_hz / lower_hz)
    from_hz = plan.heard_from_hz * 2.0**-TAPER_OCTAVES
    to_hz = plan.heard_to_hz * 2.0**TAPER_OCTAVES
    steps = math.ceil(STEPS_PER_OCTAVE * math.log2(to_hz / from_hz))
    at_hz = np.geomspace(from_hz, to_hz, steps + 1)
    # The residual falls off above the band once more: its upper end is tapered twice.
    heard = tapered(np.log2(at_hz / plan.heard_from_hz))
    heard *= tapered(np.log2(plan.heard_to_hz / at_hz)) ** 2
    order = at_hz / centres_hz[:, np.newaxis]
    passed = np.clip((order - STOPPED_ORDER) / (PASSED_ORDER - STOPPED_ORDER), 0.0, 1.0)
    weights = heard**2 * np.sin(0.5 * np.pi * passed) ** 4
    mean_square = np.trapezoid(weights * density.at(at_hz), at_hz, axis=1)
    bandwidth_hz = np.trapezoid(weights, at_hz, axis=1)
    independent = np.maximum(2.0 * bandwidth_hz * lasting_s, 1.0)
    crest = scipy.special.ndtri(0.5 + 0.5 * 0.5 ** (1.0 / independent))
    peak_pa = crest * distance_m * np.sqrt(np.maximum(mean_square, SILENCE))
    return Curve(centres_hz, 20.0 * np.log10(peak_pa / REFERENCE_PRESSURE_PA), "dB")


def tapered(inside_octaves: FloatArray) -> FloatArray:
    """Return the amplitude that passes an end of the band, so many octaves inside it."""
    passed: FloatArray = (
        np.sin(0.5 * np.pi * np.clip(1.0 + inside_octaves / TAPER_OCTAVES, 0.0, 1.0)) ** 2
    )
    return passed
