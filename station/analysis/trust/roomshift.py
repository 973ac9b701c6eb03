"""How far a noise in the room may have moved each reading, told by the ambient microphone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from station.analysis.acoustic.harmonics import harmonic_distortion
from station.analysis.acoustic.rub import Heard, heard_sound, third_octaves
from station.analysis.arrays import FloatArray
from station.analysis.plan import DistortionPlan, Plan, ResponsePlan, RubPlan
from station.analysis.readings import Curve
from station.analysis.recording import Recording
from station.analysis.signals.bands import band_centres, band_edges
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.transfer import gated_transfer
from station.analysis.trust.derivedshift import derived_shifts
from station.analysis.trust.roomchannel import RoomChannel
from station.errors import NoSignalError

BoolArray = NDArray[np.bool_]

# A noise may be so much louder at the main microphone than at the ambient one, being nearer to it.
NEARER_DB = 12.0
# Steady noise comes from everywhere: both hear it alike but for the chance of single peaks.
STEADY_DB = 4.0
# Half way between "as loud there as here" and "as much weaker there as the unit itself is".
ISOLATION_SHARE = 0.5
LEAST_ISOLATION_DB = 12.0  # less, and unit and room cannot be told apart by their levels
LEAK_SLACK = 4.0  # power: distortion may leak more than the linear sound does
# Peaks of steady noise stay below 3.5 times its RMS within a frame's reach, and below 5 times it
# in a whole run, with a chance of 1 % that one does not (normal distribution).
STEADY_PEAK_RATIO, EVENT_PEAK_RATIO = 3.5, 5.0
FRAME_S = 1e-3
REACH_S = 10e-3  # sound from anywhere within 3 m passes the two microphones in this time
# A short noise fills one band here, the next one there: its level is looked for this far around.
AROUND_OCTAVES = 2.0 / 3.0
HOLD_S = 50e-3  # a hall's sound dies at one place so much later than at another
ALL_DB = 99.0  # the shift where the room may have made all of a reading


@dataclass(frozen=True, slots=True, eq=False)
class RoomShift:
    """Bounds in dB on how far the room may have moved readings, by reading name.

    Attributes
    ----------
    curves : mapping of str to Curve
        One bound for each point of the reading; 99 dB where the room may have made all of it.
    numbers : mapping of str to float
        One bound for each number.
    """

    curves: Mapping[str, Curve] = field(default_factory=dict)
    numbers: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "curves", MappingProxyType(dict(self.curves)))
        object.__setattr__(self, "numbers", MappingProxyType(dict(self.numbers)))


def room_shift(recording: Recording, plan: Plan) -> RoomShift | None:
    """Return how far the room may have moved the readings of a recording.

    Parameters
    ----------
    recording : Recording
        One run, fit to be measured.
    plan : Plan
        What was computed from it.

    Returns
    -------
    RoomShift or None
        None where nothing can tell the room from the unit: no ambient microphone, a dead one, or
        one that hears the unit less than 12 dB weaker than the main microphone does.

    Raises
    ------
    ValueError
        If the recording has no microphone or voltage.

    Notes
    -----
    A sound of the room is about as loud at both microphones; a sound of the unit is weaker at the
    ambient one by the isolation, which the sweep itself measures. What the room may have done is
    bounded by the ambient microphone's signal raised by half of that, 12 dB at most, and sent
    through the same computation as the reading. For rub and buzz, where single peaks count, this
    is done event by event: a peak is the unit's unless the ambient microphone heard one within
    10 ms that is not so much weaker. Where the ambient microphone hears only its steady noise,
    a peak is the unit's when it is 4 dB above that; a noise counts until 50 ms after it died there.

    References
    ----------
    .. [1] The rule is our own; its rates of error are printed by tests/studies/noiseguard.py.
    """
    if "ambient" not in recording.roles or not recording.full_scale_samples("ambient").any():
        return None
    spectra = spectra_of(recording)
    try:
        response = gated_transfer(spectra, "microphone", plan.response.gate_s)
        room = RoomChannel(recording, spectra, response, plan)
        isolation_db = room.isolation_db()
    except NoSignalError:
        return None
    if isolation_db < LEAST_ISOLATION_DB:
        return None
    nearer_db = min(ISOLATION_SHARE * isolation_db, NEARER_DB)
    curves = response_shift(room, plan.response, nearer_db)
    numbers = level_shifts(curves["response"], plan) | derived_shifts(curves["response"], plan)
    if plan.distortion is not None:
        curves |= distortion_shifts(room, plan.distortion, nearer_db, isolation_db)
    if plan.rub is not None:
        curves |= rub_shifts(room, plan.rub, nearer_db)
    return RoomShift(curves, numbers)


def response_shift(room: RoomChannel, plan: ResponsePlan, nearer_db: float) -> dict[str, Curve]:
    """Return the bound on the response: noise against the unit's sound, in its gate."""
    centres_hz = band_centres(plan.from_hz, plan.to_hz, plan.bands_per_octave)
    ratio = room.noise_ratio(*band_edges(centres_hz, plan.bands_per_octave))
    ratio = largest_around(ratio, plan.bands_per_octave)
    left = np.maximum(1.0 - ratio * 10.0 ** (nearer_db / 20.0), 10.0 ** (-ALL_DB / 20.0))
    return {"response": Curve(centres_hz, 20.0 * np.log10(1.0 / left), "dB")}


def level_shifts(response: Curve, plan: Plan) -> dict[str, float]:
    """Return the bounds on levels: the largest of the response over the band of each."""
    spans = {f"level.{section.name}": section for section in plan.sections}
    numbers = {name: largest(response, span.from_hz, span.to_hz) for name, span in spans.items()}
    if (level := plan.sensitivity) is not None:
        numbers["sensitivity"] = largest(response, level.from_hz, level.to_hz)
    return numbers


def largest(curve: Curve, from_hz: float, to_hz: float) -> float:
    """Return the largest value of a curve over a span; zero where it has none."""
    inside = (curve.frequency_hz >= from_hz) & (curve.frequency_hz <= to_hz)
    return float(np.max(curve.values[inside], initial=0.0))


def distortion_shifts(
    room: RoomChannel, plan: DistortionPlan, nearer_db: float, isolation_db: float
) -> dict[str, Curve]:
    """Return the bounds on every harmonic and on their sum."""
    here = harmonic_distortion(room.spectra, room.response, plan)
    there = harmonic_distortion(room.beside_the_unit, room.response, plan)
    pairs = {f"h{order}": (here.h_db[order], there.h_db[order]) for order in here.h_db}
    pairs["thd"] = here.thd_db, there.thd_db
    leaks = LEAK_SLACK * 10.0 ** (-isolation_db / 10.0)
    curves = {}
    for name, (here_db, there_db) in pairs.items():
        power = 10.0 ** (here_db / 10.0)
        heard = np.nan_to_num(10.0 ** (there_db / 10.0))
        rooms = np.maximum(largest_around(heard, plan.bands_per_octave) - leaks * power, 0.0)
        left = 1.0 - rooms / power * 10.0 ** (nearer_db / 10.0)
        shift_db = 10.0 * np.log10(1.0 / np.maximum(left, 10.0 ** (-ALL_DB / 10.0)))
        curves[name] = Curve(here.frequency_hz, shift_db, "dB")
    return curves


def largest_around(values: FloatArray, bands_per_octave: int) -> FloatArray:
    """Return the largest of the values within two thirds of an octave on either side."""
    reach = round(AROUND_OCTAVES * bands_per_octave)
    around: FloatArray = ndimage.maximum_filter1d(values, 2 * reach + 1, mode="nearest")
    return around


def rub_shifts(room: RoomChannel, plan: RubPlan, nearer_db: float) -> dict[str, Curve]:
    """Return the bound on rub and buzz: peak of all over peak of what the room did not make."""
    heard = heard_sound(room.spectra, room.response, plan)
    ambient = heard_sound(room.beside_the_unit, room.response, plan)
    centres_hz, lower_hz, upper_hz = third_octaves(plan)
    rooms = rooms_samples(heard, ambient, room, plan, nearer_db)
    shift_db = np.empty_like(centres_hz)
    for index, (from_hz, to_hz) in enumerate(zip(lower_hz, upper_hz, strict=True)):
        samples = heard.samples_between(from_hz, to_hz)
        during = np.abs(heard.pressure_pa[samples])
        units_pa = float(np.max(during, where=~rooms[samples], initial=0.0))
        share = max(units_pa / float(during.max()), 10.0 ** (-ALL_DB / 20.0))
        shift_db[index] = 20.0 * np.log10(1.0 / share)
    curve = Curve(centres_hz, shift_db, "dB")
    return {"rub": curve, "rub_crest": curve}


def rooms_samples(
    heard: Heard, ambient: Heard, room: RoomChannel, plan: RubPlan, nearer_db: float
) -> BoolArray:
    """Return which samples the room may have made, over the whole recording."""
    _, lower_hz, upper_hz = third_octaves(plan)
    samples = heard.samples_between(float(lower_hz[0]), float(upper_hz[-1]))
    frame = max(1, round(FRAME_S * heard.sweep.rate_hz))
    here_pa, there_pa = frame_peaks(heard, samples, frame), frame_peaks(ambient, samples, frame)
    reach = 2 * round(REACH_S / FRAME_S) + 1
    near_pa = ndimage.maximum_filter1d(there_pa, reach)
    after_s = np.arange(here_pa.size, dtype=np.float64) * (frame / heard.sweep.rate_hz)
    time_s: FloatArray = after_s + heard.sweep.time_of(float(lower_hz[0]))
    calm_pa = room.calm_rms_pa(plan, time_s)
    happens = events(near_pa, STEADY_PEAK_RATIO * calm_pa, EVENT_PEAK_RATIO * calm_pa)
    happens = held(happens, round(HOLD_S / FRAME_S))
    louder_db = np.where(happens, nearer_db, min(STEADY_DB, nearer_db))
    made = here_pa <= near_pa * 10.0 ** (louder_db / 20.0)
    rooms = np.zeros(heard.pressure_pa.size, dtype=bool)
    rooms[samples] = np.repeat(made, frame)[: samples.size]
    return rooms


def frame_peaks(heard: Heard, samples: NDArray[np.intp], frame: int) -> FloatArray:
    """Return the largest pressure in each frame of some samples; the last may be short."""
    pressure_pa = np.abs(heard.pressure_pa[samples])
    padded_pa = np.pad(pressure_pa, (0, -samples.size % frame))
    peaks: FloatArray = padded_pa.reshape(-1, frame).max(axis=1)
    return peaks


def events(level_pa: FloatArray, lower_pa: FloatArray, upper_pa: FloatArray) -> BoolArray:
    """Return which frames belong to an event: above the lower level around one above the upper."""
    numbered, count = ndimage.label(level_pa > lower_pa)
    if count == 0:
        return np.zeros(level_pa.shape, dtype=bool)
    loud = np.unique(numbered[level_pa > upper_pa])
    return np.isin(numbered, loud[loud > 0])


def held(happens: BoolArray, frames: int) -> BoolArray:
    """Return events made longer by so many frames."""
    place = np.arange(happens.size)
    latest = np.maximum.accumulate(np.where(happens, place, -frames - 1))
    longer: BoolArray = place - latest <= frames
    return longer
