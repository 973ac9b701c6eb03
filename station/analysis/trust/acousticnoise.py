"""What the noise before the sweep adds to the gated response, and how far it moves a level."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.analysis.acoustic.polarity import reference_in_band
from station.analysis.acoustic.response import (
    REFERENCE_BANDS_PER_OCTAVE,
    excited_edges,
    level_gain,
    power_in_bands,
)
from station.analysis.arrays import FloatArray
from station.analysis.plan import Reference, ResponsePlan, SectionPlan, SensitivityPlan
from station.analysis.readings import Curve
from station.analysis.signals.bands import band_centres, band_edges
from station.analysis.signals.noisedensity import NoiseDensity
from station.analysis.signals.smoothing import band_power
from station.analysis.signals.spectra import Spectra
from station.analysis.signals.transfer import GATE_END_RATIO, Gate, Transfer, pre_window

MEAN_OF_SINE_TO_THE_FOURTH = 3.0 / 8.0
MEAN_OF_SINE_TO_THE_EIGHTH = 35.0 / 128.0
DB_PER_NEPER_OF_POWER = 10.0 / math.log(10.0)
SILENCE = float(np.finfo(np.float64).tiny)  # so that no noise at all has a level too


@dataclass(frozen=True, slots=True)
class GatedNoise:
    """How a gate lets noise through.

    Attributes
    ----------
    density : NoiseDensity
        Of the microphone, in Pa² a Hz.
    open_s : float
        Integral of the squared gate: noise power passes in proportion to it.
    cell_s : float
        Noise a reciprocal of this apart in frequency is independent.
    """

    density: NoiseDensity
    open_s: float
    cell_s: float


def gated_noise(
    density: NoiseDensity, spectra: Spectra, response: Transfer, gate_s: float
) -> GatedNoise:
    """Return what a gate of raised cosines lets through of a steady noise.

    Parameters
    ----------
    density : NoiseDensity
        Of the microphone.
    spectra : Spectra
        Of the recording.
    response : Transfer
        That was gated.
    gate_s : float
        Its gate after the peak.

    Returns
    -------
    GatedNoise
        With the integrals of the window's square and fourth power in closed form.

    Raises
    ------
    ValueError
        Not raised.

    References
    ----------
    .. [1] Means of sin^4 and sin^8: 3/8 and 35/128. Harris, Proc. IEEE 66(1), 1978, on the
       equivalent noise bandwidth of a window.
    """
    gate = Gate(response.delay_s, pre_window(spectra.sweep, "microphone"), gate_s)
    slopes_s = gate.before_s + GATE_END_RATIO * gate.after_s
    flat_s = (1.0 - GATE_END_RATIO) * gate.after_s
    square_s = flat_s + MEAN_OF_SINE_TO_THE_FOURTH * slopes_s
    fourth_s = flat_s + MEAN_OF_SINE_TO_THE_EIGHTH * slopes_s
    return GatedNoise(density, square_s, square_s**2 / fourth_s)


def noise_power(
    noise: GatedNoise, spectra: Spectra, centres_hz: FloatArray, bands_per_octave: int
) -> FloatArray:
    """Return the mean power that noise adds to the response's bins, in bands.

    Parameters
    ----------
    noise : GatedNoise
        What passes the gate.
    spectra : Spectra
        With the voltage the response is referred to.
    centres_hz : ndarray, shape (n,)
        Band centres.
    bands_per_octave : int
        Their width.

    Returns
    -------
    ndarray, shape (n,)
        In (Pa/V)². A noise of one-sided density S has E|N|² = S fs² T / 2 in a bin of a plain
        transform that a window with the squared integral T was laid on; the voltage divides it.

    Raises
    ------
    NoSignalError
        If a band is outside the sweep.

    References
    ----------
    .. [1] Bendat, Piersol, Random Data, 4th ed., section 5.2, on spectra of finite transforms.
    """
    lower_hz, upper_hz = excited_edges(centres_hz, bands_per_octave, spectra.sweep)
    last = math.ceil(float(upper_hz[-1]) / spectra.step_hz) + 1
    voltage = spectra.by_role["voltage"][:last]
    drive = band_power(voltage.real**2 + voltage.imag**2, spectra.step_hz, lower_hz, upper_hz)
    passed = 0.5 * noise.density.at(centres_hz) * spectra.sweep.rate_hz**2 * noise.open_s
    power: FloatArray = passed / np.maximum(drive, SILENCE)
    return power


def response_noise(
    noise: GatedNoise, spectra: Spectra, plan: ResponsePlan, distance_m: float
) -> Curve:
    """Return the level that the noise alone would read as a response.

    Parameters
    ----------
    noise : GatedNoise
        What passes the gate.
    spectra : Spectra
        Of the recording.
    plan : ResponsePlan
        The response's own.
    distance_m : float
        From unit to microphone.

    Returns
    -------
    Curve
        In dB re 20 µPa at 1 m, on the response's bands: the response less this is the ratio of
        signal to noise.

    Raises
    ------
    NoSignalError
        If a band is outside the sweep.
    ValueError
        If the distance is not positive.

    References
    ----------
    .. [1] As `noise_power` and `response_level`.
    """
    centres_hz = band_centres(plan.from_hz, plan.to_hz, plan.bands_per_octave)
    power = noise_power(noise, spectra, centres_hz, plan.bands_per_octave)
    power *= level_gain(plan.for_v, distance_m)
    return Curve(centres_hz, 10.0 * np.log10(np.maximum(power, SILENCE)), "dB")


def sensitivity_uncertainty_db(
    noise: GatedNoise,
    spectra: Spectra,
    response: Transfer,
    plan: SensitivityPlan,
    stated: ResponsePlan,
) -> float:
    """Return the standard uncertainty that noise gives the sensitivity.

    Parameters
    ----------
    noise : GatedNoise
        What passes the gate.
    spectra : Spectra
        Of the recording.
    response : Transfer
        The microphone's gated response.
    plan : SensitivityPlan
        Its range.
    stated : ResponsePlan
        Its bands.

    Returns
    -------
    float
        In dB. A bin |S + N|² has the variance 2 |S|² s² + s⁴, s² the noise's power; a band holds
        as many independent bins as its width times `cell_s`, and the bands are added.

    Raises
    ------
    NoSignalError
        If a band is silent or outside the sweep.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2. The variance follows from the moments of a complex normal value.
    """
    centres_hz, power = power_in_bands(
        response, plan.from_hz, plan.to_hz, stated.bands_per_octave, spectra.sweep
    )
    noise_in = noise_power(noise, spectra, centres_hz, stated.bands_per_octave)
    lower_hz, upper_hz = band_edges(centres_hz, stated.bands_per_octave)
    signal = np.maximum(power - noise_in, 0.0)
    variance = (2.0 * signal * noise_in + noise_in**2) / ((upper_hz - lower_hz) * noise.cell_s)
    return DB_PER_NEPER_OF_POWER * math.sqrt(float(np.sum(variance))) / float(np.sum(power))


def section_uncertainty_db(
    noise: GatedNoise, spectra: Spectra, reference: Reference, section: SectionPlan, level_db: float
) -> float:
    """Return the standard uncertainty that noise gives a section's level.

    Parameters
    ----------
    noise : GatedNoise
        What passes the gate.
    spectra : Spectra
        Of the recording.
    reference : Reference
        Of the model's reference unit.
    section : SectionPlan
        Its band.
    level_db : float
        The section's level against the reference: the section is taken to have its shape.

    Returns
    -------
    float
        In dB: a complex mean over a band of n independent bins has its amplitude moved by the
        root of s² / 2n; the section's level is the mean over its bands.

    Raises
    ------
    NoSignalError
        If a band is outside the sweep.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2.
    """
    centres_hz, wanted = reference_in_band(reference, section)
    noise_in = noise_power(noise, spectra, centres_hz, REFERENCE_BANDS_PER_OCTAVE)
    lower_hz, upper_hz = band_edges(centres_hz, REFERENCE_BANDS_PER_OCTAVE)
    heard = np.abs(wanted) ** 2 * 10.0 ** (level_db / 10.0)
    relative = noise_in / (2.0 * (upper_hz - lower_hz) * noise.cell_s * heard)
    return 2.0 * DB_PER_NEPER_OF_POWER * math.sqrt(float(np.sum(relative))) / centres_hz.size
