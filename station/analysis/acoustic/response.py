"""Response as a level at 1 m, sensitivity, and the response of a reference unit."""

from __future__ import annotations

import math

import numpy as np

from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.plan import Reference, ResponsePlan, SensitivityPlan
from station.analysis.readings import Curve
from station.analysis.signals.bands import band_centres, band_edges
from station.analysis.signals.smoothing import band_average, band_power
from station.analysis.signals.soundpressure import REFERENCE_PRESSURE_PA
from station.analysis.signals.spectra import full_level_to_hz
from station.analysis.signals.sweep import Sweep
from station.analysis.signals.transfer import Transfer
from station.errors import NoSignalError

SPEED_OF_SOUND_M_PER_S = 343.2  # dry air at 20 °C
REFERENCE_BANDS_PER_OCTAVE = 12


def response_level(
    response: Transfer, plan: ResponsePlan, sweep: Sweep, distance_m: float
) -> Curve:
    """Return the response as sound pressure level at 1 m.

    Parameters
    ----------
    response : Transfer
        Gated response of the microphone to the voltage, in Pa/V.
    plan : ResponsePlan
        Range, bands, and the voltage it is stated for.
    sweep : Sweep
        The stimulus, for the range in which the response can be trusted.
    distance_m : float
        From unit to microphone; pressure is taken to fall with distance.

    Returns
    -------
    Curve
        In dB re 20 µPa: mean power of the response in each band.

    Raises
    ------
    NoSignalError
        If a band is silent or outside the sweep.
    ValueError
        If the distance is not positive.

    References
    ----------
    .. [1] IEC 60268-5, frequency response; IEC 61260-1, bands; ISO 1683, reference pressure.
    """
    frequency_hz, power = power_in_bands(
        response, plan.from_hz, plan.to_hz, plan.bands_per_octave, sweep
    )
    gain = level_gain(plan.for_v, distance_m)
    return Curve(frequency_hz, 10.0 * np.log10(power * gain), "dB")


def sensitivity(
    response: Transfer,
    plan: SensitivityPlan,
    stated: ResponsePlan,
    sweep: Sweep,
    distance_m: float,
) -> float:
    """Return the mean sound pressure level of the response between two frequencies.

    Parameters
    ----------
    response : Transfer
        Gated response of the microphone to the voltage, in Pa/V.
    plan : SensitivityPlan
        The range.
    stated : ResponsePlan
        Its bands, and the voltage that levels are stated for.
    sweep : Sweep
        The stimulus.
    distance_m : float
        From unit to microphone.

    Returns
    -------
    float
        In dB re 20 µPa at 1 m: the root of the mean square of the pressures in the bands, all of
        which weigh the same, as for pink noise.

    Raises
    ------
    NoSignalError
        If a band is silent or outside the sweep.
    ValueError
        If the distance is not positive.

    References
    ----------
    .. [1] IEC 60268-5, mean sound pressure in a stated frequency band, characteristic
       sensitivity (clause numbers differ between editions; from memory).
    """
    _, power = power_in_bands(response, plan.from_hz, plan.to_hz, stated.bands_per_octave, sweep)
    return 10.0 * math.log10(float(np.mean(power)) * level_gain(stated.for_v, distance_m))


def reference_of(
    response: Transfer, sweep: Sweep, distance_m: float, from_hz: float, to_hz: float
) -> Reference:
    """Return what a limit file keeps of a reference unit's response.

    Parameters
    ----------
    response : Transfer
        Gated response of the microphone to the voltage, in Pa/V.
    sweep : Sweep
        The stimulus.
    distance_m : float
        From unit to microphone.
    from_hz, to_hz : float
        Range to keep.

    Returns
    -------
    Reference
        Complex mean in each twelfth of an octave, without the time that sound takes for the
        distance at 20 °C; the unit's own delay stays.

    Raises
    ------
    NoSignalError
        If a band is outside the sweep.
    ValueError
        If the distance is not positive.

    References
    ----------
    .. [1] Bands: IEC 61260-1. Averaging: common practice, no source.
    """
    centres_hz = band_centres(from_hz, to_hz, REFERENCE_BANDS_PER_OCTAVE)
    return Reference(centres_hz, response_without_flight(response, centres_hz, sweep, distance_m))


def response_without_flight(
    response: Transfer, centres_hz: FloatArray, sweep: Sweep, distance_m: float
) -> ComplexArray:
    """Return the complex response at 1 m in twelfths of an octave, flight time removed.

    It is averaged around its own peak, where its phase is slow, and then referred to the distance.
    """
    if distance_m <= 0.0:
        raise ValueError(f"need a distance above zero; got {distance_m} m")
    lower_hz, upper_hz = excited_edges(centres_hz, REFERENCE_BANDS_PER_OCTAVE, sweep)
    means = band_average(
        response.values, float(response.frequency_hz[1]), response.delay_s, lower_hz, upper_hz
    )
    late_s = response.delay_s - distance_m / SPEED_OF_SOUND_M_PER_S
    without: ComplexArray = distance_m * means * np.exp(-2j * np.pi * centres_hz * late_s)
    return without


def power_in_bands(
    response: Transfer, from_hz: float, to_hz: float, bands_per_octave: int, sweep: Sweep
) -> tuple[FloatArray, FloatArray]:
    """Return band centres and mean power of a response; raise NoSignalError if one is silent."""
    centres_hz = band_centres(from_hz, to_hz, bands_per_octave)
    lower_hz, upper_hz = excited_edges(centres_hz, bands_per_octave, sweep)
    step_hz = float(response.frequency_hz[1])
    values = response.values[: math.ceil(float(upper_hz[-1]) / step_hz) + 1]
    power = band_power(values.real**2 + values.imag**2, step_hz, lower_hz, upper_hz)
    if np.any(power <= 0.0):
        raise NoSignalError("The microphone heard nothing.", "Check its cable and its supply.")
    return centres_hz, power


def excited_edges(
    centres_hz: FloatArray, bands_per_octave: int, sweep: Sweep
) -> tuple[FloatArray, FloatArray]:
    """Return band edges, the outermost cut where the sweep ends; NoSignalError beyond it."""
    lower_hz, upper_hz = band_edges(centres_hz, bands_per_octave)
    lower_hz = np.maximum(lower_hz, sweep.faded_in_hz)
    upper_hz = np.minimum(upper_hz, full_level_to_hz(sweep))
    if np.any(lower_hz >= upper_hz):
        raise NoSignalError(
            "The sweep does not excite all frequencies that are to be read.",
            "Correct the sweep or the ranges in the limit file.",
        )
    return lower_hz, upper_hz


def level_gain(for_v: float, distance_m: float) -> float:
    """Return what turns (Pa/V)^2 into the square of pressure at 1 m over the reference."""
    if distance_m <= 0.0:
        raise ValueError(f"need a distance above zero; got {distance_m} m")
    return (for_v * distance_m / REFERENCE_PRESSURE_PA) ** 2
