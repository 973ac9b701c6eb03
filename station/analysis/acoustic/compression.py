"""Gain compression against drive level: where a limiter or clipping sets in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.interpolate
import scipy.optimize

from station.analysis.arrays import FloatArray, read_only
from station.analysis.signals.levelcurves import mean_level_db


@dataclass(frozen=True, slots=True, eq=False)
class BandCompression:
    """How the gain of one band falls as the drive rises.

    Parameters
    ----------
    from_hz, to_hz : float
        The band.
    drive_v : ndarray, shape (k,)
        RMS drive voltages, rising.
    compression_db : ndarray, shape (k,)
        Gain at the lowest drive minus gain at each drive; the first is 0, positive is
        compression.
    onset_v : float or None
        Drive at which the compression first reaches the stated amount; None if it never does
        within the drives measured.
    """

    from_hz: float
    to_hz: float
    drive_v: FloatArray
    compression_db: FloatArray
    onset_v: float | None

    def __post_init__(self) -> None:
        object.__setattr__(self, "drive_v", read_only(self.drive_v))
        object.__setattr__(self, "compression_db", read_only(self.compression_db))


def band_compression(
    frequency_hz: FloatArray,
    drive_v: FloatArray,
    response_db: FloatArray,
    bands_hz: Sequence[tuple[float, float]],
    reached_db: float,
) -> tuple[BandCompression, ...]:
    """Return the gain compression of each band and the drive at which it sets in.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, above zero.
    drive_v : ndarray, shape (k,)
        RMS voltage of each measurement; rising, above zero, k >= 2.
    response_db : ndarray, shape (k, n)
        Response of each measurement relative to its own drive, in dB: a linear unit gives the
        same curve k times.
    bands_hz : sequence of (float, float)
        From and to.
    reached_db : float
        The compression that counts as the onset, above 0, for example 1 dB.

    Returns
    -------
    tuple of BandCompression
        One for each band. The onset is interpolated over the logarithm of the drive by a
        monotone cubic: between two measurements it never bends back.

    Raises
    ------
    NoSignalError
        If a band has no point or one that is not finite.
    ValueError
        If shapes disagree, drives do not rise from above zero, or `reached_db` is not positive.

    Notes
    -----
    What the lowest drive compresses already is not seen: choose it well below the onset. A hard
    limiter, the worst case, is found within 0.004 dB of drive for steps of 1 dB, 0.08 dB for 2 dB,
    0.2 dB for 3 dB and 0.8 dB for 6 dB.

    References
    ----------
    .. [1] IEC 60268-21, amplitude compression of the fundamental (title from memory).
    .. [2] Fritsch, Carlson, "Monotone piecewise cubic interpolation", SIAM J. Numer. Anal. 17(2),
       1980.
    """
    if drive_v.ndim != 1 or drive_v.size < 2 or response_db.shape[:1] != drive_v.shape:
        raise ValueError(f"need (k,) and (k, n), k >= 2; got {drive_v.shape}, {response_db.shape}")
    if not np.isfinite(drive_v).all() or drive_v[0] <= 0.0 or np.any(np.diff(drive_v) <= 0.0):
        raise ValueError("drives must rise from above zero")
    if not reached_db > 0.0:
        raise ValueError(f"the compression to reach must be positive; got {reached_db}")
    found = []
    for from_hz, to_hz in bands_hz:
        gain_db = mean_level_db(frequency_hz, response_db, from_hz, to_hz)
        compression_db = gain_db[0] - gain_db
        onset_v = drive_reaching(drive_v, compression_db, reached_db)
        found.append(BandCompression(from_hz, to_hz, drive_v, compression_db, onset_v))
    return tuple(found)


def drive_reaching(
    drive_v: FloatArray, compression_db: FloatArray, reached_db: float
) -> float | None:
    """Return the drive at which the compression first reaches an amount, or None."""
    reached = np.flatnonzero(compression_db >= reached_db)
    if reached.size == 0:
        return None
    after = int(reached[0])  # never 0: the first is 0 dB by definition
    log_drive = np.log(drive_v)
    beyond = scipy.interpolate.PchipInterpolator(log_drive, compression_db - reached_db)
    crossing = scipy.optimize.brentq(beyond, log_drive[after - 1], log_drive[after])
    return math.exp(crossing)
