"""Polarity and level of each section of a unit."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import scipy.fft

from station.analysis.acoustic.response import response_without_flight
from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.plan import Reference, SectionPlan
from station.analysis.signals.bands import NOMINAL_RATIO
from station.analysis.signals.spectra import even_fast_length, phase_ramp
from station.analysis.signals.sweep import Sweep
from station.analysis.signals.transfer import Transfer
from station.errors import NoSignalError

# Sound may be so much earlier or later than with the reference unit: 17 cm, or 30 K over 3 m.
REACH_S = 0.5e-3
STEPS_PER_PERIOD = 20
FINE_STEPS = 10
# Further away it is looked for only to say so, where the sections look little like the reference.
SEARCHED_S = 3e-3  # 1 m
ALIKE_FROM_RATIO = 0.8
MUCH_MORE_ALIKE_RATIO = 0.1
# A section this much weaker than the reference does not play: what is heard in its band is
# another section or noise, and its correlation shrinks with it.
SILENT_BELOW_RATIO = 0.25  # -12 dB

FIRST_HALF_WAVE_RATIO = 0.25  # of the largest half-wave; smaller ones are noise
FRAME_BEFORE_S = 0.020

Pair = tuple[FloatArray, ComplexArray, ComplexArray]  # frequencies, the unit's, the reference's


@dataclass(frozen=True, slots=True)
class SectionState:
    """How one section stands against the reference unit's.

    `polarity_ratio` is about +1 as it should be, -1 reversed, 0 silent; `level_db` is relative to
    the reference.
    """

    polarity_ratio: float
    level_db: float


def section_states(
    response: Transfer,
    reference: Reference,
    sections: tuple[SectionPlan, ...],
    sweep: Sweep,
    distance_m: float,
) -> Mapping[str, SectionState]:
    """Return polarity and level of each section against the reference unit's.

    Parameters
    ----------
    response : Transfer
        Gated response of the microphone to the voltage, in Pa/V.
    reference : Reference
        Of the model's reference unit, in twelfths of an octave.
    sections : tuple of SectionPlan
        Names and bands.
    sweep : Sweep
        The stimulus.
    distance_m : float
        From unit to microphone.

    Returns
    -------
    mapping of str to SectionState
        By section name. Polarity is the correlation of the complex responses over log frequency;
        one time shift within 0.5 ms is common to all sections: the one with the largest sum of
        magnitudes. Level is the mean over log frequency of the levels' difference.

    Raises
    ------
    NoSignalError
        If a section's band is silent, outside the sweep, or not in the reference; or if the
        sound arrives earlier or later than the reference unit's by more than the shift allowed.
    ValueError
        If the distance is not positive.

    References
    ----------
    .. [1] IEC 60268-5, polarity: a positive voltage at the marked terminal gives positive
       pressure; that the reference unit obeys it is checked when it is chosen.
    """
    responses = [
        pair_in_band(response, reference, section, sweep, distance_m) for section in sections
    ]
    shift_s = common_shift(responses)
    states: dict[str, SectionState] = {}
    for section, (frequency_hz, unit, wanted) in zip(sections, responses, strict=True):
        correlation = correlations(frequency_hz, unit, wanted, np.array([shift_s]))
        level_db = float(np.mean(20.0 * np.log10(np.abs(unit) / np.abs(wanted))))
        states[section.name] = SectionState(float(correlation[0]), level_db)
    return states


def pair_in_band(
    response: Transfer,
    reference: Reference,
    section: SectionPlan,
    sweep: Sweep,
    distance_m: float,
) -> Pair:
    """Return frequencies, the unit's and the reference's complex response in a section's band."""
    frequency_hz, wanted = reference_in_band(reference, section)
    unit = response_without_flight(response, frequency_hz, sweep, distance_m)
    if not np.all(np.abs(unit) > 0.0):
        raise NoSignalError(
            f"Nothing at all was heard in the band of the {section.name}.",
            "Check the microphone's cable and supply.",
        )
    return frequency_hz, unit, wanted


def reference_in_band(
    reference: Reference, section: SectionPlan
) -> tuple[FloatArray, ComplexArray]:
    """Return frequencies and the reference's complex response in a section's band."""
    chosen = (reference.frequency_hz >= section.from_hz / NOMINAL_RATIO) & (
        reference.frequency_hz <= section.to_hz * NOMINAL_RATIO
    )
    frequency_hz, wanted = reference.frequency_hz[chosen], reference.response[chosen]
    if frequency_hz.size == 0 or not np.all(np.abs(wanted) > 0.0):
        raise NoSignalError(
            f"The reference response is empty in the band of the {section.name}.",
            "Make the reference of this limit file again.",
        )
    return frequency_hz, wanted


def common_shift(responses: list[Pair]) -> float:
    """Return the time shift at which the magnitudes of all correlations sum to the most.

    Raises NoSignalError where they sum to much more beyond the reach: such a unit sounds as it
    should, but the microphone is elsewhere.
    """
    highest_hz = max(float(frequency_hz[-1]) for frequency_hz, *_ in responses)
    step_s = 1.0 / (STEPS_PER_PERIOD * highest_hz)
    coarse_s, likeness = best_shift(responses, 0.0, REACH_S, step_s)
    if likeness < ALIKE_FROM_RATIO:
        _, beyond = best_shift(responses, 0.0, SEARCHED_S, step_s)
        if beyond > max(ALIKE_FROM_RATIO, likeness + MUCH_MORE_ALIKE_RATIO):
            raise NoSignalError(
                f"The sound arrives more than {1e3 * REACH_S:g} ms earlier or later than the "
                "reference unit's.",
                "Check the microphone's place and its distance in the station file, then repeat.",
            )
    return best_shift(responses, coarse_s, step_s, step_s / FINE_STEPS)[0]


def best_shift(
    responses: list[Pair], centre_s: float, reach_s: float, step_s: float
) -> tuple[float, float]:
    """Return the shift at which the sections are most like the reference, and how much of 1."""
    shifts_s = centre_s + np.linspace(-reach_s, reach_s, 2 * math.ceil(reach_s / step_s) + 1)
    total = np.sum([np.abs(correlations(*response, shifts_s)) for response in responses], axis=0)
    best = int(np.argmax(total))
    return float(shifts_s[best]), float(total[best]) / len(responses)


def correlations(
    frequency_hz: FloatArray, unit: ComplexArray, wanted: ComplexArray, shifts_s: FloatArray
) -> FloatArray:
    """Return the correlation of two responses at each time shift of the unit's."""
    scale = float(np.linalg.norm(wanted))
    norm = scale * max(float(np.linalg.norm(unit)), SILENT_BELOW_RATIO * scale)
    turned = np.exp(2j * np.pi * np.multiply.outer(shifts_s, frequency_hz))
    sums: FloatArray = (turned @ (unit * np.conjugate(wanted))).real / norm
    return sums


def first_half_wave(response: Transfer, section: SectionPlan) -> float:
    """Return the sign of a section's first half-wave, for a first unit without reference.

    Parameters
    ----------
    response : Transfer
        Gated response of the microphone to the voltage, in Pa/V.
    section : SectionPlan
        Name and band.

    Returns
    -------
    float
        +1 if a positive voltage first raises the pressure, else -1. The impulse response is
        limited to the band by causal filters (Butterworth, high-pass order 2, low-pass order 4),
        which keep the first half-wave's sign.

    Raises
    ------
    NoSignalError
        If the band is silent.

    References
    ----------
    .. [1] IEC 60268-5, polarity.
    """
    step_hz = float(response.frequency_hz[1])
    count = min(math.ceil(4.0 * section.to_hz / step_hz) + 1, response.values.size)
    spectrum = response.values[:count] * band_filter(response.frequency_hz[:count], section)
    spectrum *= phase_ramp(count, step_hz, FRAME_BEFORE_S - response.delay_s)
    impulse = scipy.fft.irfft(spectrum, even_fast_length(2 * count))
    largest = float(np.max(np.abs(impulse)))
    if largest <= 0.0:
        raise NoSignalError(
            f"Nothing at all was heard in the band of the {section.name}.",
            "Check the microphone's cable and supply.",
        )
    first = int(np.argmax(np.abs(impulse) >= FIRST_HALF_WAVE_RATIO * largest))
    return float(np.sign(impulse[first]))


def band_filter(frequency_hz: FloatArray, section: SectionPlan) -> ComplexArray:
    """Return a causal band-pass: Butterworth, order 2 below and order 4 above."""
    low = 1j * frequency_hz / section.from_hz
    high = 1j * frequency_hz / section.to_hz
    filtered: ComplexArray = np.square(low) / (np.square(low) + math.sqrt(2.0) * low + 1.0)
    for damping in (2.0 * math.sin(math.pi / 8.0), 2.0 * math.cos(math.pi / 8.0)):
        filtered /= np.square(high) + damping * high + 1.0
    return filtered
