"""How loud it is around the unit before the sweep begins."""

from __future__ import annotations

import math

import numpy as np

from station.analysis.recording import Recording, Role
from station.analysis.signals.soundpressure import REFERENCE_PRESSURE_PA
from station.errors import NoSignalError

SHORTEST_LEAD_IN_S = 0.010


def ambient_role(recording: Recording) -> Role:
    """Return the channel that hears the room: the ambient microphone if there is one.

    The main microphone hears a unit's idle noise as well, which is the unit's fault.
    """
    return "ambient" if "ambient" in recording.roles else "microphone"


def ambient_level(recording: Recording) -> float:
    """Return the sound pressure level in the lead-in.

    Parameters
    ----------
    recording : Recording
        With an ambient or a main microphone.

    Returns
    -------
    float
        RMS in dB re 20 µPa, unweighted; a constant offset, which is no sound, is left out.

    Raises
    ------
    NoSignalError
        If the lead-in is shorter than 10 ms, or exactly constant.
    KeyError
        If there is no microphone.

    References
    ----------
    .. [1] IEC 61672-1, time-averaged sound level, Z weighting.
    """
    samples = recording.in_unit(ambient_role(recording))[: recording.sweep.lead_in_samples]
    if samples.size < SHORTEST_LEAD_IN_S * recording.rate_hz:
        raise NoSignalError(
            "The silence before the sweep is too short to hear the room.",
            "Lengthen lead_in_s in the limit file.",
        )
    mean_square = float(np.var(samples))
    if mean_square <= 0.0:
        raise NoSignalError(
            "The microphone for the room is dead.", "Check its cable and its supply."
        )
    return 10.0 * math.log10(mean_square) - 20.0 * math.log10(REFERENCE_PRESSURE_PA)
