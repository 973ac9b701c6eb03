"""The room as the ambient microphone hears it, put in the place of the main microphone.

Every step from a microphone's signal to a reading of distortion or rub is linear up to the last
one. What the ambient microphone hears of the room, sent through the same steps, is therefore what
the room alone would have made of the reading.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import scipy.fft
import scipy.signal

from station.analysis.acoustic.rub import PASSED_ORDER
from station.analysis.acoustic.rubnoise import SEGMENT, power_above
from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.plan import Plan, ResponsePlan, RubPlan
from station.analysis.recording import Recording
from station.analysis.signals.bands import band_centres, band_edges
from station.analysis.signals.smoothing import band_power
from station.analysis.signals.spectra import Spectra
from station.analysis.signals.transfer import Gate, Transfer, gated_transfer, pre_window

BANDS_PER_OCTAVE = 3
# A gate this short holds the sound that comes straight from the unit and little of the room's.
STRAIGHT_AFTER_S = 0.030
STRAIGHT_BEFORE_S = 0.005
SILENCE_APART_S = 0.010  # between a silence and the sweep, for the sound's flight and rounding
LEAK_SLACK_RATIO = 2.0  # a decay or an echo may leak more than the straight sound does
# Steady noise in the narrow bands of a response stays within 10 dB of its mean.
EVENT_POWER_RATIO = 10.0
DECAY_S = 0.100  # after the sweep, in which a unit still sounds


@dataclass(frozen=True)
class RoomChannel:
    """The ambient channel of one recording beside its main microphone.

    Parameters
    ----------
    recording : Recording
        With microphone, voltage and ambient microphone.
    spectra : Spectra
        Of the recording.
    response : Transfer
        The microphone's gated response to the voltage, in Pa/V.
    plan : Plan
        What is computed from the recording.
    """

    recording: Recording
    spectra: Spectra
    response: Transfer
    plan: Plan

    @cached_property
    def whole(self) -> Spectra:
        """The ambient microphone in the main one's place."""
        heard_pa = self.recording.in_unit("ambient")
        return self._in_its_place(scipy.fft.rfft(heard_pa, self.spectra.n))

    @cached_property
    def leak(self) -> Transfer:
        """What the ambient microphone hears of the unit, in Pa/V."""
        return gated_transfer(self.whole, "microphone", self.plan.response.gate_s)

    @cached_property
    def beside_the_unit(self) -> Spectra:
        """The same without the unit's linear sound there, and with it as it was here.

        Readings that take the linear part away, and refer the rest to it, then are the room's.
        """
        difference = self.response.values - self.leak.values
        room: ComplexArray = self.spectra.by_role["voltage"] * difference
        room += self.whole.by_role["microphone"]
        return self._in_its_place(room)

    @cached_property
    def straight_leak(self) -> Transfer:
        """What comes straight from the unit to the ambient microphone, in Pa/V."""
        return gated_transfer(
            self.whole, "microphone", STRAIGHT_AFTER_S, before_s=STRAIGHT_BEFORE_S
        )

    def isolation_db(self) -> float:
        """Return how much weaker the unit is at the ambient microphone: median of third octaves.

        Noise of the room in the short gate only makes it look smaller.
        """
        transfers = self.response, self.straight_leak
        here, there = (band_levels(transfer, self.plan.response) for transfer in transfers)
        return float(np.median(here - there))

    def noise_ratio(self, lower_hz: FloatArray, upper_hz: FloatArray) -> FloatArray:
        """Return the pressure of noises in the response's gate over the unit's, by band.

        What only the long gate holds, less what the unit's own decay and echoes may have leaked.
        Zero where that is not 10 dB above the room's steady noise: no noise happened there.
        """
        step_hz, voltage = self.spectra.step_hz, self.spectra.by_role["voltage"]
        straight = gated_transfer(
            self.spectra, "microphone", STRAIGHT_AFTER_S, before_s=STRAIGHT_BEFORE_S
        )
        late = np.abs(self.leak.values - self.straight_leak.values)
        units_late = np.abs(self.response.values - straight.values)
        leaked = LEAK_SLACK_RATIO * 10.0 ** (-self.isolation_db() / 20.0) * units_late
        heard = np.maximum(late - leaked, 0.0) ** 2
        steady = self._steady_density() * (0.5 * self.spectra.sweep.rate_hz * self._gate_square())
        power_v = voltage.real**2 + voltage.imag**2
        steady /= np.maximum(power_v, np.finfo(float).tiny)
        powers = (heard, steady, np.abs(self.response.values) ** 2)
        noise, calm, unit = (band_power(one, step_hz, lower_hz, upper_hz) for one in powers)
        happens = noise > EVENT_POWER_RATIO * calm
        ratio = np.sqrt(noise / np.maximum(unit, np.finfo(float).tiny))
        return np.where(happens, ratio, 0.0)

    def _steady_density(self) -> FloatArray:
        """Return the steady noise's power density at the bins, in Pa²/Hz."""
        densities = [
            scipy.signal.welch(silence, self.spectra.sweep.rate_hz, nperseg=SEGMENT)
            for silence in self._silences()
        ]
        if not densities:
            return np.zeros_like(self.spectra.frequency_hz)
        frequency_hz, density = min(densities, key=lambda one: float(np.sum(one[1])))
        steady: FloatArray = np.interp(self.spectra.frequency_hz, frequency_hz, density)
        return steady

    def _gate_square(self) -> float:
        """Return the sum of squares, over samples, of what the long gate has and the short has not.

        A noise that is spread evenly in time keeps this share, times its length, of its power.
        """
        before_s, after_s = pre_window(self.spectra.sweep, "microphone"), self.plan.response.gate_s
        rate_hz = self.spectra.sweep.rate_hz
        time_s = np.arange(-round(before_s * rate_hz), round(after_s * rate_hz)) / rate_hz
        long = Gate(0.0, before_s, after_s).weights(time_s)
        short = Gate(0.0, STRAIGHT_BEFORE_S, STRAIGHT_AFTER_S).weights(time_s)
        return float(np.sum((long - short) ** 2))

    def calm_rms_pa(self, plan: RubPlan, time_s: FloatArray) -> FloatArray:
        """Return the RMS that the room's steady noise has above the tenth harmonic at each time.

        From the quieter of the silences before and after the sweep; `time_s` counts from the
        sweep's first sample at the microphone. Zero where there is no silence long enough.
        """
        sweep = self.spectra.sweep
        above_hz = PASSED_ORDER * sweep.start_hz * np.exp(time_s / sweep.rate_s)
        tails = [power_above(silence, sweep.rate_hz, plan) for silence in self._silences()]
        if not tails:
            return np.zeros_like(time_s)
        frequency_hz, power = min(tails, key=lambda tail: float(tail[1][0]))
        return np.asarray(np.sqrt(np.interp(above_hz, frequency_hz, power)))

    def _silences(self) -> list[FloatArray]:
        """Return what the ambient microphone heard before and after the sweep."""
        heard_pa = self.recording.in_unit("ambient")
        rate_hz = self.spectra.sweep.rate_hz
        ended_s = self.spectra.start_s + self.spectra.sweep.true_duration_s + DECAY_S
        before = heard_pa[: max(0, round((self.spectra.start_s - SILENCE_APART_S) * rate_hz))]
        after = heard_pa[round(ended_s * rate_hz) :]
        return [silence for silence in (before, after) if silence.size >= 2 * SEGMENT]

    def _in_its_place(self, microphone: ComplexArray) -> Spectra:
        roles = {**self.spectra.by_role, "microphone": microphone}
        return replace(self.spectra, by_role=roles)


def band_levels(transfer: Transfer, plan: ResponsePlan) -> FloatArray:
    """Return a transfer function's level in third octaves, in dB."""
    centres_hz = band_centres(plan.from_hz, plan.to_hz, BANDS_PER_OCTAVE)
    power = np.abs(transfer.values) ** 2
    step_hz = float(transfer.frequency_hz[1])
    means = band_power(power, step_hz, *band_edges(centres_hz, BANDS_PER_OCTAVE))
    return np.asarray(10.0 * np.log10(np.maximum(means, np.finfo(float).tiny)))
