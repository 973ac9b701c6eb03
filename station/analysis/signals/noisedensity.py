"""The noise of a channel before the sweep, as a density over frequency.

It is read in the lead-in, where nothing is played, and not in what the sweep leaves unexplained:
there the room's reverberation and the unit's own distortion stand as well, which are no noise.
What begins only during the sweep is therefore not in it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft

from station.analysis.arrays import FloatArray, read_only
from station.analysis.recording import Recording, Role
from station.analysis.signals.leadin import lead_in
from station.analysis.signals.quietrecording import hann
from station.analysis.signals.smoothing import band_power
from station.errors import NoSignalError

SHORTEST_LEAD_IN_S = 0.050
STEPS_PER_OCTAVE = 6
# Each value is a mean over a third of an octave to either side, and over sixteen bins at least: the
# density of one bin is off by as much as itself, that of sixteen by about a third.
HALF_WIDTH_RATIO = 2.0 ** (1.0 / 3.0)
HALF_WIDTH_BINS = 8.0


@dataclass(frozen=True, slots=True, eq=False)
class NoiseDensity:
    """Mean square a hertz of a channel's noise.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, above zero.
    density : ndarray, shape (n,)
        One-sided, in the channel's unit squared a Hz; zero if the lead-in holds nothing at all.
    """

    frequency_hz: FloatArray
    density: FloatArray

    def __post_init__(self) -> None:
        for name in ("frequency_hz", "density"):
            object.__setattr__(self, name, read_only(getattr(self, name)))

    def at(self, frequency_hz: FloatArray) -> FloatArray:
        """Return the density, straight over log frequency and constant beyond the ends."""
        known = np.log(self.frequency_hz)
        density: FloatArray = np.interp(np.log(frequency_hz), known, self.density)
        return density


def noise_density(recording: Recording, role: Role) -> NoiseDensity:
    """Return the density of a channel's noise in the lead-in.

    Parameters
    ----------
    recording : Recording
        With this role and a lead-in of 50 ms or more.
    role : Role
        Which channel; a microphone as an ideal one would have heard it.

    Returns
    -------
    NoiseDensity
        From a Hann window over the whole lead-in, its mean taken off. With 0.25 s the bins stand
        4 Hz apart and resolve 6 Hz.

    Raises
    ------
    NoSignalError
        If the lead-in, or what was recorded of it, is shorter than 50 ms.
    KeyError
        If the recording does not have the role.

    References
    ----------
    .. [1] Welch, IEEE Trans. Audio Electroacoust. 15(2), 1967, for one segment.
    """
    rate_hz = recording.rate_hz
    quiet = lead_in(recording, role)
    if quiet.size < SHORTEST_LEAD_IN_S * rate_hz:
        raise NoSignalError(
            "The silence before the sweep is too short to hear the noise in it.",
            "Lengthen lead_in_s in the limit file.",
        )
    window = hann(quiet.size)
    step_hz = rate_hz / quiet.size
    spectrum = scipy.fft.rfft(window * (quiet - quiet.mean()))
    density = (spectrum.real**2 + spectrum.imag**2) * (2.0 / (rate_hz * float(window @ window)))
    highest_hz = (spectrum.size - 1) * step_hz
    octaves = math.log2(highest_hz / step_hz)
    at_hz = np.geomspace(step_hz, highest_hz, math.ceil(octaves * STEPS_PER_OCTAVE) + 1)
    half_hz = np.maximum(at_hz * (HALF_WIDTH_RATIO - 1.0), HALF_WIDTH_BINS * step_hz)
    lower_hz = np.maximum(at_hz - half_hz, 0.0)
    upper_hz = np.minimum(at_hz + half_hz, highest_hz)
    return NoiseDensity(at_hz, band_power(density, step_hz, lower_hz, upper_hz))
