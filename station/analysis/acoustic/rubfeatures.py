"""What the bursts above the tenth harmonic look like: features that tell their causes apart."""

from __future__ import annotations

import math
from dataclasses import astuple, dataclass, fields

import numpy as np
import scipy.signal

from station.analysis.acoustic.rub import PASSED_ORDER, Heard, heard_sound, third_octaves
from station.analysis.acoustic.rubnoise import power_above
from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.plan import Plan, RubPlan
from station.analysis.recording import Recording
from station.analysis.signals.spectra import Spectra, phase_ramp, spectra_of
from station.analysis.signals.transfer import Transfer, gated_transfer
from station.errors import NoSignalError

FRAME_S = 0.25e-3
SILENCE_APART_S = 0.010  # between the silence and the sweep
SHRILL_FROM_HZ = 5000.0
RING_S = 0.5e-3  # a loose part still rings after this, an arc does not
FLOOR_DB = -40.0
NOISE_PEAK_RATIO = 4.0  # a frame of noise rarely holds four times its mean energy


@dataclass(frozen=True, slots=True)
class RubFeatures:
    """One recording's bursts; every mean is weighted with their energy above the noise.

    Attributes
    ----------
    excursion_db : float
        Excursion of the diaphragm where they come, re its largest in the sweep.
    excited_octaves : float
        Excitation frequency where they come, in octaves re 100 Hz; differs from model to model,
        so that no cause is told by it.
    span_octaves : float
        Standard deviation of that.
    once_ratio : float
        How much they keep to one instant of each cycle of the excursion: 1 always, 0 never.
    twice_ratio : float
        How much they come at both extremes of the excursion (+1), or half-way between (-1).
    ringing_ratio : float
        Energy half a millisecond after a burst over the energy in it.
    shrill_db : float
        Energy above 5 kHz over the whole.
    """

    excursion_db: float
    excited_octaves: float
    span_octaves: float
    once_ratio: float
    twice_ratio: float
    ringing_ratio: float
    shrill_db: float

    def values(self) -> FloatArray:
        """Return the features in the order of `names`."""
        return np.array(astuple(self))

    @classmethod
    def names(cls) -> tuple[str, ...]:
        """Return the features' names."""
        return tuple(one.name for one in fields(cls))


def rub_features(recording: Recording, plan: Plan) -> RubFeatures:
    """Return what the bursts of a recording look like.

    Parameters
    ----------
    recording : Recording
        With microphone and voltage, and a silence before the sweep.
    plan : Plan
        With a rub part.

    Returns
    -------
    RubFeatures
        Of the sound above the tenth harmonic over the plan's excitation frequencies.

    Raises
    ------
    NoSignalError
        If nothing stands above the noise of the silence.
    ValueError
        If the plan does not ask for rub and buzz.

    Notes
    -----
    The diaphragm's excursion follows from the sound itself: pressure at a distance is
    proportional to acceleration, so that excursion is the response over the frequency squared,
    turned by half a cycle. Its phase at every instant is the excitation's plus the response's.

    References
    ----------
    .. [1] IEC 60268-21, impulsive distortion.
    .. [2] Beranek, Acoustics, 1954, on the simple source: pressure follows acceleration.
    """
    if plan.rub is None:
        raise ValueError("the plan asks for no rub and buzz")
    spectra = spectra_of(recording)
    response = gated_transfer(spectra, "microphone", plan.response.gate_s)
    heard = heard_sound(spectra, response, plan.rub)
    bursts = bursts_in(heard, plan.rub, recording, spectra)
    motion = motion_at(response, spectra, bursts)
    turning = np.exp(1j * motion.phase_rad)
    octaves = np.log2(bursts.excited_hz / 100.0)
    centre = bursts.mean(octaves)
    return RubFeatures(
        excursion_db=bursts.mean(motion.excursion_db),
        excited_octaves=centre,
        span_octaves=math.sqrt(bursts.mean((octaves - centre) ** 2)),
        once_ratio=abs(complex(bursts.mean(turning.real), bursts.mean(turning.imag))),
        twice_ratio=bursts.mean((turning**2).real),
        ringing_ratio=ringing_ratio(bursts.energy),
        shrill_db=shrill_db(heard, bursts),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Bursts:
    """Energy above the noise in frames of a quarter millisecond, shape (n,), and where it is."""

    energy: FloatArray
    time_s: FloatArray  # of each frame's middle after the sweep's first sample
    excited_hz: FloatArray
    pressure_pa: FloatArray  # shape (n, samples of a frame)

    def mean(self, values: FloatArray) -> float:
        """Return a mean weighted with the energy."""
        return float(np.sum(values * self.energy) / np.sum(self.energy))


def bursts_in(heard: Heard, plan: RubPlan, recording: Recording, spectra: Spectra) -> Bursts:
    """Return where and how strong the bursts are; raise NoSignalError if there is none."""
    _, lower_hz, upper_hz = third_octaves(plan)
    sweep = heard.sweep
    samples = heard.samples_between(float(lower_hz[0]), float(upper_hz[-1]))
    frame = max(1, round(FRAME_S * sweep.rate_hz))
    count = samples.size // frame
    pressure_pa = heard.pressure_pa[samples[: count * frame]].reshape(count, frame)
    after_s = (np.arange(count, dtype=np.float64) + 0.5) * (frame / sweep.rate_hz)
    time_s: FloatArray = after_s + sweep.time_of(float(lower_hz[0]))
    excited_hz: FloatArray = sweep.start_hz * np.exp(time_s / sweep.rate_s)
    silence = max(0, round((spectra.start_s - SILENCE_APART_S) * sweep.rate_hz))
    quiet_pa = recording.in_unit("microphone")[:silence]
    noise_hz, noise_power = power_above(quiet_pa, sweep.rate_hz, plan)
    noise = np.interp(PASSED_ORDER * excited_hz, noise_hz, noise_power)
    energy = np.maximum(np.mean(pressure_pa**2, axis=1) - NOISE_PEAK_RATIO * noise, 0.0)
    if not energy.any():
        raise NoSignalError("Nothing stands above the noise.", "Measure again in a quieter room.")
    return Bursts(energy, time_s, excited_hz, pressure_pa)


@dataclass(frozen=True, slots=True, eq=False)
class MotionAt:
    """The diaphragm at each burst: excursion re its largest, and where in its cycle it is."""

    excursion_db: FloatArray
    phase_rad: FloatArray  # 0 at one extreme, pi at the other


def motion_at(response: Transfer, spectra: Spectra, bursts: Bursts) -> MotionAt:
    """Return how the diaphragm moves at each frame, from the sound it radiates."""
    sweep = spectra.sweep
    bins = int(np.ceil(bursts.excited_hz[-1] / spectra.step_hz)) + 2
    first = max(1, int(np.ceil(sweep.faded_in_hz / spectra.step_hz)))
    advanced: ComplexArray = response.values[:bins] * phase_ramp(
        bins, spectra.step_hz, -response.delay_s
    )
    frequency_hz = response.frequency_hz[first:bins]
    excursion = -advanced[first:bins] / frequency_hz**2
    level_db = 20.0 * np.log10(np.maximum(np.abs(excursion), np.finfo(float).tiny))
    level_db = np.maximum(level_db - level_db.max(), FLOOR_DB)
    turned_rad = np.unwrap(np.angle(excursion))
    growth = bursts.excited_hz / sweep.start_hz - 1.0
    # The sweep is a sine: its phase counts from a zero crossing, a quarter before the extreme.
    excited_rad = 2.0 * np.pi * sweep.start_hz * sweep.rate_s * growth - 0.5 * np.pi
    return MotionAt(
        np.interp(bursts.excited_hz, frequency_hz, level_db),
        excited_rad + np.interp(bursts.excited_hz, frequency_hz, turned_rad),
    )


def ringing_ratio(energy: FloatArray) -> float:
    """Return the energy's correlation with itself a ring time later, re that with itself."""
    lag = round(RING_S / FRAME_S)
    return float(np.sum(energy[lag:] * energy[:-lag]) / np.sum(energy**2))


def shrill_db(heard: Heard, bursts: Bursts) -> float:
    """Return how much of the bursts' energy lies above 5 kHz."""
    weight = (bursts.energy > 0.0)[:, None] * bursts.pressure_pa
    frequency_hz, density = scipy.signal.welch(weight.ravel(), heard.sweep.rate_hz, nperseg=1024)
    shrill = float(np.sum(density[frequency_hz >= SHRILL_FROM_HZ]) / np.sum(density))
    return 10.0 * math.log10(max(shrill, 10.0 ** (FLOOR_DB / 10.0)))
