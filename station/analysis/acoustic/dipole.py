"""The sound behind a unit against the sound before it, from the two microphones' responses."""

from __future__ import annotations

import numpy as np

from station.analysis.acoustic.directivity import FrontToBack, front_to_back
from station.analysis.plan import DipolePlan
from station.analysis.signals.bands import band_centres, band_edges
from station.analysis.signals.smoothing import band_average
from station.analysis.signals.transfer import Transfer

BANDS_PER_OCTAVE = 24


def sound_behind(front: Transfer, back: Transfer, plan: DipolePlan) -> FrontToBack:
    """Return how the sound behind a unit compares with the sound before it.

    Parameters
    ----------
    front, back : Transfer
        Gated responses of the main and the rear microphone to the same voltage, in Pa/V.
    plan : DipolePlan
        The band, and how far the two may be apart in time.

    Returns
    -------
    FrontToBack
        Of the complex means in twenty-fourths of an octave; its delay counts from the arrival at
        the main microphone.

    Raises
    ------
    NoSignalError
        If one of the two is silent in the band.
    ValueError
        If the band holds no twenty-fourth of an octave, or reaches beyond the spectrum.

    References
    ----------
    .. [1] As `front_to_back`.
    """
    centres_hz = band_centres(plan.from_hz, plan.to_hz, BANDS_PER_OCTAVE)
    lower_hz, upper_hz = band_edges(centres_hz, BANDS_PER_OCTAVE)
    # Each is averaged around its own arrival, where its phase is slow, and then put back in time.
    means = [
        band_average(side.values, float(side.frequency_hz[1]), side.delay_s, lower_hz, upper_hz)
        for side in (front, back)
    ]
    late_s = back.delay_s - front.delay_s
    behind = means[1] * np.exp(-2j * np.pi * centres_hz * late_s)
    return front_to_back(
        centres_hz, means[0], behind, (plan.from_hz, plan.to_hz), plan.longest_delay_s
    )
