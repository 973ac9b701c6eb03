"""Fractional-octave bands: exact centres and edges."""

from __future__ import annotations

import math

import numpy as np

from station.analysis.arrays import FloatArray

REFERENCE_HZ = 1000.0
OCTAVE_RATIO = 10.0**0.3  # base ten
# Nominal frequencies differ from the exact centres by up to 0.95 % (1600 Hz is 1584.9 Hz), and
# limit files are written in nominal ones.
NOMINAL_RATIO = 1.01


def band_centres(from_hz: float, to_hz: float, bands_per_octave: int) -> FloatArray:
    """Return the exact centres of the standard bands between two frequencies.

    Parameters
    ----------
    from_hz, to_hz : float
        Exact or nominal; both ends belong to the range, and 1 % beyond them.
    bands_per_octave : int
        3 for third octaves.

    Returns
    -------
    ndarray, shape (n,)
        Rising.

    Raises
    ------
    ValueError
        If no band has its centre in the range, or an argument is not positive.

    References
    ----------
    .. [1] IEC 61260-1:2014, clause 5: eq. (2) for odd and eq. (3) for even fractions.
    """
    if not 0.0 < from_hz <= to_hz or bands_per_octave < 1:
        raise ValueError(f"need 0 < from <= to; got {from_hz} to {to_hz}, 1/{bands_per_octave}")
    shift = 0.0 if bands_per_octave % 2 else 0.5
    per_neper = bands_per_octave / math.log(OCTAVE_RATIO)
    first = math.ceil(math.log(from_hz / NOMINAL_RATIO / REFERENCE_HZ) * per_neper - shift)
    last = math.floor(math.log(to_hz * NOMINAL_RATIO / REFERENCE_HZ) * per_neper - shift)
    if last < first:
        raise ValueError(f"no 1/{bands_per_octave}-octave band between {from_hz} and {to_hz} Hz")
    centres_hz: FloatArray = REFERENCE_HZ * OCTAVE_RATIO ** (
        (np.arange(first, last + 1) + shift) / bands_per_octave
    )
    return centres_hz


def band_edges(centres_hz: FloatArray, bands_per_octave: int) -> tuple[FloatArray, FloatArray]:
    """Return the lower and upper edges of standard bands.

    Parameters
    ----------
    centres_hz : ndarray, shape (n,)
        Exact centres.
    bands_per_octave : int
        3 for third octaves.

    Returns
    -------
    tuple of two ndarray, shape (n,)
        Lower and upper edges in Hz.

    Raises
    ------
    ValueError
        If `bands_per_octave` is below one.

    References
    ----------
    .. [1] IEC 61260-1:2014, clause 5: eq. (4) and (5).
    """
    if bands_per_octave < 1:
        raise ValueError(f"need one band per octave or more; got {bands_per_octave}")
    half = OCTAVE_RATIO ** (0.5 / bands_per_octave)
    return centres_hz / half, centres_hz * half
