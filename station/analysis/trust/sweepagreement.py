"""What repeated sweeps of one unit have in common: that is the unit's, the rest is the room's."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import ndimage

from station.analysis.acoustic.rub import heard_sound, third_octaves
from station.analysis.arrays import FloatArray
from station.analysis.plan import Plan, RubPlan
from station.analysis.readings import Curve, Readings
from station.analysis.recording import Recording
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.transfer import gated_transfer
from station.analysis.trust.roomshift import ALL_DB, FRAME_S, REACH_S, RoomShift, frame_peaks


def shift_between_sweeps(
    recordings: Sequence[Recording], readings: Sequence[Readings], plan: Plan
) -> RoomShift:
    """Return how far the last of several sweeps differs from what all of them agree on.

    Parameters
    ----------
    recordings : sequence of Recording
        Two or more of the same unit, the one in question last.
    readings : sequence of Readings
        Of each recording.
    plan : Plan
        What was computed from them.

    Returns
    -------
    RoomShift
        For each point of each curve and each number the largest difference from an earlier
        sweep. For rub and buzz the peaks of all sweeps are compared at the same instant of the
        excitation, within 10 ms, so that two noises agree only if they came at the same instant.

    Raises
    ------
    ValueError
        If there are fewer than two sweeps, or not as many readings as recordings.

    References
    ----------
    .. [1] The rule is our own; its rates of error are printed by tests/studies/noiseguard.py.
    """
    if len(recordings) < 2 or len(recordings) != len(readings):
        raise ValueError(f"need two sweeps or more; got {len(recordings)} and {len(readings)}")
    *before, now = readings
    curves = {
        name: Curve(curve.frequency_hz, differences(curve, name, before), "dB")
        for name, curve in now.curves.items()
        if curve.unit == "dB"
    }
    numbers = {
        name: max(abs(number.value - earlier.numbers[name].value) for earlier in before)
        for name, number in now.numbers.items()
        if all(name in earlier.numbers for earlier in before)
    }
    if plan.rub is not None and "rub" in curves:
        agreed = rub_shift(recordings, plan, plan.rub)
        curves |= {"rub": agreed, "rub_crest": agreed}
    return RoomShift(curves, numbers)


def differences(curve: Curve, name: str, before: Sequence[Readings]) -> FloatArray:
    """Return the largest difference from an earlier curve at each point; none if one is missing."""
    if not all(name in earlier.curves for earlier in before):
        return np.zeros_like(curve.values)
    apart = [np.abs(curve.values - earlier.curves[name].values) for earlier in before]
    largest: FloatArray = np.max(apart, axis=0)
    return largest


def rub_shift(recordings: Sequence[Recording], plan: Plan, rub: RubPlan) -> Curve:
    """Return how far the last sweep's peaks lie above those that every sweep has."""
    centres_hz, lower_hz, upper_hz = third_octaves(rub)
    peaks = [peaks_of(recording, plan, rub) for recording in recordings]
    size = min(one.size for one in peaks)  # fractions of a sample may cost one frame
    reach = 2 * round(REACH_S / FRAME_S) + 1
    near = [ndimage.maximum_filter1d(one[:size], reach) for one in peaks[:-1]]
    now_pa = peaks[-1][:size]
    agreed_pa = np.minimum(now_pa, np.min(near, axis=0))
    sweep = recordings[-1].sweep
    first_s = sweep.time_of(float(lower_hz[0]))
    shift_db = np.empty_like(centres_hz)
    for index, (from_hz, to_hz) in enumerate(zip(lower_hz, upper_hz, strict=True)):
        first = min(int((sweep.time_of(from_hz) - first_s) / FRAME_S), size - 1)
        stop = max(first + 1, int(np.ceil((sweep.time_of(to_hz) - first_s) / FRAME_S)))
        share = agreed_pa[first:stop].max() / now_pa[first:stop].max()
        shift_db[index] = 20.0 * np.log10(1.0 / max(float(share), 10.0 ** (-ALL_DB / 20.0)))
    return Curve(centres_hz, shift_db, "dB")


def peaks_of(recording: Recording, plan: Plan, rub: RubPlan) -> FloatArray:
    """Return the peak of what is heard in each millisecond of the excitation."""
    _, lower_hz, upper_hz = third_octaves(rub)
    spectra = spectra_of(recording)
    response = gated_transfer(spectra, "microphone", plan.response.gate_s)
    heard = heard_sound(spectra, response, rub)
    samples = heard.samples_between(float(lower_hz[0]), float(upper_hz[-1]))
    return frame_peaks(heard, samples, max(1, round(FRAME_S * heard.sweep.rate_hz)))
