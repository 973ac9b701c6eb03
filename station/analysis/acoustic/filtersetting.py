"""Corner frequency and slope of a low-pass or high-pass, read from a response curve."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.plan import FilterPlan
from station.analysis.signals.levelcurves import in_band, octave_weights
from station.errors import NoSignalError

HALF_POWER_DB = 10.0 * math.log10(2.0)
HALF_AMPLITUDE_DB = 20.0 * math.log10(2.0)

# A parabola over this much to either side of the crossing: the noise of one point moves it
# little, and the curve of a fourth-order filter bends away from it by 0.1 % of the corner.
FIT_OCTAVES = 1.0 / 3.0
FIT_DEGREE = 2
FEWEST_POINTS = 5
RECENTRED_TIMES = 3


@dataclass(frozen=True, slots=True)
class FilterSetting:
    """A filter as it was heard; each value has its standard uncertainty beside it.

    Attributes
    ----------
    passband_db : float
        Mean level over the passband's octaves.
    corner_hz, corner_u_hz : float
        Where the level is 3.01 dB (half the power) below the passband.
    half_amplitude_hz, half_amplitude_u_hz : float
        Where it is 6.02 dB below: the corner of a Linkwitz-Riley filter.
    slope_db_per_octave, slope_u_db_per_octave : float
        How fast the level falls away from the passband; positive for both kinds.
    """

    passband_db: float
    corner_hz: float
    corner_u_hz: float
    half_amplitude_hz: float
    half_amplitude_u_hz: float
    slope_db_per_octave: float
    slope_u_db_per_octave: float


def filter_setting(
    frequency_hz: FloatArray, level_db: FloatArray, plan: FilterPlan
) -> FilterSetting:
    """Return the corner frequencies and the slope of a filter.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, above zero; twelve points an octave or more.
    level_db : ndarray, shape (n,)
        Response in dB.
    plan : FilterPlan
        Passband, flank, and which way it falls.

    Returns
    -------
    FilterSetting
        The crossings nearest to the passband, and the slope over the stated span.

    Raises
    ------
    NoSignalError
        If the curve has gaps, does not fall by 6 dB, or has too few points.
    ValueError
        If shapes disagree, frequencies do not rise, or the passband or span is upside down.

    Notes
    -----
    The corner is the root of a parabola fitted by least squares over a third of an octave to
    either side. Its uncertainty, and that of the slope, comes from the scatter about the fit, as
    if the noise of the points were independent and alike; of a curve without noise it says how
    far the curve is from a parabola or a line. The parabola itself moves the corner of a
    Butterworth filter by 0.02 % (second order), 0.1 % (fourth) or 0.5 % (eighth).

    References
    ----------
    .. [1] IEC 60268-3, gain-limited effective frequency range: limits where the gain is 3 dB down.
    .. [2] JCGM 100:2008, H.3: uncertainty of a value from a least-squares fit.
    """
    passband_hz, levels = in_band(
        frequency_hz, level_db, plan.passband_from_hz, plan.passband_to_hz
    )
    if level_db.ndim != 1:
        raise ValueError(f"need one curve, shape (n,); got {level_db.shape}")
    passband_db = float(levels @ octave_weights(passband_hz))
    sign = 1.0 if plan.kind == "low-pass" else -1.0
    order = slice(None) if plan.kind == "low-pass" else slice(None, None, -1)
    octave = (sign * np.log2(frequency_hz))[order]
    edge_hz = plan.passband_to_hz if plan.kind == "low-pass" else plan.passband_from_hz
    beyond = octave > sign * math.log2(edge_hz)
    flank = Flank(octave, (level_db - passband_db)[order], beyond, passband_hz.size)
    corner, corner_u = flank.crossing(HALF_POWER_DB)
    half, half_u = flank.crossing(HALF_AMPLITUDE_DB)
    slope, slope_u = slope_of(frequency_hz, level_db, plan.slope_from_hz, plan.slope_to_hz)
    return FilterSetting(
        passband_db=passband_db,
        corner_hz=2.0 ** (sign * corner),
        corner_u_hz=2.0 ** (sign * corner) * math.log(2.0) * corner_u,
        half_amplitude_hz=2.0 ** (sign * half),
        half_amplitude_u_hz=2.0 ** (sign * half) * math.log(2.0) * half_u,
        slope_db_per_octave=-sign * slope,
        slope_u_db_per_octave=slope_u,
    )


def slope_of(
    frequency_hz: FloatArray, level_db: FloatArray, from_hz: float, to_hz: float
) -> tuple[float, float]:
    """Return the slope of a level curve and its standard uncertainty.

    Parameters
    ----------
    frequency_hz, level_db : ndarray, shape (n,)
        Rising frequencies above zero, levels in dB.
    from_hz, to_hz : float
        The span of the regression.

    Returns
    -------
    tuple of float
        Slope in dB an octave, positive if the level rises, and its standard uncertainty.

    Raises
    ------
    NoSignalError
        If there are fewer than five points in the span, or one is not finite.
    ValueError
        As `in_band`.

    References
    ----------
    .. [1] JCGM 100:2008, H.3: straight line by least squares.
    """
    inside_hz, levels = in_band(frequency_hz, level_db, from_hz, to_hz)
    if inside_hz.size < FEWEST_POINTS:
        raise too_coarse()
    octave = np.log2(inside_hz)
    octave = octave - octave.mean()
    squares = float(octave @ octave)
    slope = float(octave @ levels) / squares
    left = levels - levels.mean() - slope * octave
    variance = float(left @ left) / (inside_hz.size - 2)
    return slope, math.sqrt(variance / squares)


@dataclass(frozen=True, slots=True, eq=False)
class Flank:
    """A level curve relative to its passband, turned so that it falls towards higher octaves.

    Parameters
    ----------
    octave : ndarray, shape (n,)
        Logarithm of the frequency to the base 2, with its sign changed for a high-pass; rising.
    level_db : ndarray, shape (n,)
        Relative to the passband.
    beyond : ndarray of bool, shape (n,)
        The points past the passband.
    passband_points : int
        Over how many points the passband's level was averaged.
    """

    octave: FloatArray
    level_db: FloatArray
    beyond: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
    passband_points: int

    def crossing(self, drop_db: float) -> tuple[float, float]:
        """Return where the level has fallen by `drop_db`, in octaves, and the uncertainty."""
        fallen = np.flatnonzero(self.beyond & (self.level_db <= -drop_db))
        if fallen.size == 0:
            raise NoSignalError(
                f"The response does not fall by {drop_db:.0f} dB beyond its passband.",
                "Check the filter's setting and the band of the sweep.",
            )
        centre = float(self.octave[fallen[0]])
        uncertainty = 0.0
        for _ in range(RECENTRED_TIMES):
            offset, uncertainty = self._root(centre, drop_db)
            centre += offset
        return centre, uncertainty

    def _root(self, centre: float, drop_db: float) -> tuple[float, float]:
        """Return the root of the parabola about a place, relative to it, and its uncertainty."""
        near = np.abs(self.octave - centre) <= FIT_OCTAVES
        points = int(np.count_nonzero(near))
        if points < FEWEST_POINTS or not np.isfinite(self.level_db[near]).all():
            raise too_coarse()
        powers = np.vander(self.octave[near] - centre, FIT_DEGREE + 1, increasing=True)
        wanted = self.level_db[near] + drop_db
        coefficients = np.linalg.lstsq(powers, wanted)[0]
        roots = np.roots(coefficients[::-1])
        real = roots[np.abs(roots.imag) == 0.0].real
        real = real[np.abs(real) <= FIT_OCTAVES]
        if real.size == 0:
            raise NoSignalError(
                f"The response has no clear fall by {drop_db:.0f} dB.",
                "Measure again in quieter surroundings or with more level.",
            )
        offset = float(real[np.argmin(np.abs(real))])
        left = wanted - powers @ coefficients
        variance = float(left @ left) / (points - FIT_DEGREE - 1)
        at = offset ** np.arange(FIT_DEGREE + 1)
        share = float(at @ np.linalg.solve(powers.T @ powers, at)) + 1.0 / self.passband_points
        slope = float(coefficients[1] + 2.0 * coefficients[2] * offset)
        if slope >= 0.0:
            raise NoSignalError(
                f"The response has no clear fall by {drop_db:.0f} dB.",
                "Measure again in quieter surroundings or with more level.",
            )
        return offset, math.sqrt(variance * share) / -slope


def too_coarse() -> NoSignalError:
    """Return the error of a curve with too few points."""
    return NoSignalError(
        "The response has too few points to read the filter from.",
        "Read it in twelve bands an octave or more, over the whole flank.",
    )
