"""Tolerance bands: breakpoints to limits, limits to violations, violations to a margin."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.analysis.arrays import FloatArray
from station.analysis.plan import Reference
from station.analysis.readings import Curve
from station.analysis.signals.soundpressure import REFERENCE_PRESSURE_PA
from station.judging.tables.tables import BandTable
from station.judging.verdicts.verdict import AppliedBand, Margin

BoolArray = NDArray[np.bool_]
EDGE_RATIO = 1e-6  # a band that ends on a standard frequency includes it, rounding or not


@dataclass(frozen=True, slots=True, eq=False)
class BandResult:
    """A curve against its band.

    `depth` is how far each point lies outside (positive) or inside (negative), in the curve's
    unit, after forgiveness; `below` and `above` mark the violations that count. `offset_db` is
    the mean difference from the reference of a floating band, else zero.
    """

    applied: AppliedBand
    depth: FloatArray
    below: BoolArray
    above: BoolArray
    offset_db: float

    @property
    def margin(self) -> Margin:
        """Margin at the worst point that counts."""
        worst = int(np.argmax(self.depth))
        return Margin(
            0.0 - float(self.depth[worst]),
            self.applied.unit,
            float(self.applied.frequency_hz[worst]),
        )


def judged_points(curve: Curve, band: BandTable) -> BoolArray:
    """Return which points of a curve lie in a band, both ends included."""
    first_hz, last_hz = band.points[0][0], band.points[-1][0]
    inside: BoolArray = (curve.frequency_hz >= first_hz * (1.0 - EDGE_RATIO)) & (
        curve.frequency_hz <= last_hz * (1.0 + EDGE_RATIO)
    )
    return inside


def band_result(
    curve: Curve, band: BandTable, reference: Reference | None, for_v: float
) -> BandResult:
    """Return how a curve lies in a tolerance band.

    Parameters
    ----------
    curve : Curve
        The reading; finite in the band.
    band : BandTable
        Breakpoints, mode and forgiveness.
    reference : Reference or None
        Needed by relative and floating bands.
    for_v : float
        RMS voltage the response's level is stated for, in V.

    Raises
    ------
    ValueError
        If the band holds no point of the curve, a point is not finite, or a needed reference
        is missing.
    """
    inside = judged_points(curve, band)
    frequency_hz, values = curve.frequency_hz[inside], curve.values[inside]
    if values.size == 0 or not np.isfinite(values).all():
        raise ValueError("need at least one point in the band, and only finite ones")
    lower, upper = limits_at(frequency_hz, band)
    offset_db = 0.0
    if band.mode != "absolute":
        if reference is None:
            raise ValueError("a relative band needs a reference")
        reference_db = reference_level_db(reference, frequency_hz, for_v)
        shift = reference_db
        if band.offset_db is not None:
            offset_db = float(np.mean(values - reference_db))
            shift = reference_db + float(np.clip(offset_db, -band.offset_db, band.offset_db))
        lower, upper = lower + shift, upper + shift
    below = counted(frequency_hz, lower - values, band)
    above = counted(frequency_hz, values - upper, band)
    depth = np.maximum(lower - values, values - upper)
    depth = np.where(below | above, depth, np.minimum(depth, 0.0))
    applied = AppliedBand(
        frequency_hz, values, lower, upper, (below | above).astype(np.float64), curve.unit
    )
    return BandResult(applied, depth, below, above, offset_db)


def limits_at(frequency_hz: FloatArray, band: BandTable) -> tuple[FloatArray, FloatArray]:
    """Return lower and upper limit, linear over log frequency between breakpoints."""
    points = np.array(band.points)
    at, breakpoints = np.log(frequency_hz), np.log(points[:, 0])
    sides = []
    for column, open_value in ((1, -math.inf), (2, math.inf)):
        if np.isinf(points[:, column]).all():
            sides.append(np.full(frequency_hz.shape, open_value))
        else:
            sides.append(np.interp(at, breakpoints, points[:, column]))
    return sides[0], sides[1]


def reference_level_db(reference: Reference, frequency_hz: FloatArray, for_v: float) -> FloatArray:
    """Return the reference response as level in dB re 20 µPa at 1 m for `for_v`."""
    level_db = 20.0 * np.log10(np.abs(reference.response) * for_v / REFERENCE_PRESSURE_PA)
    return np.interp(np.log(frequency_hz), np.log(reference.frequency_hz), level_db)


def counted(frequency_hz: FloatArray, depth: FloatArray, band: BandTable) -> BoolArray:
    """Return which points violate one side, without the runs that the band forgives.

    A run of neighbouring violations is forgiven when it is narrower than `forgive_octaves`
    (measured between the points halfway to its neighbours) or nowhere deeper than
    `forgive_depth`.
    """
    outside: BoolArray = depth > 0.0
    steps = np.diff(np.concatenate(([False], outside, [False])).astype(np.int8))
    halfway = np.sqrt(frequency_hz[1:] * frequency_hz[:-1])
    edges_hz = np.concatenate((frequency_hz[:1], halfway, frequency_hz[-1:]))
    for first, end in zip(np.flatnonzero(steps == 1), np.flatnonzero(steps == -1), strict=True):
        octaves = math.log2(edges_hz[end] / edges_hz[first])
        if octaves < band.forgive_octaves or depth[first:end].max() <= band.forgive_depth:
            outside[first:end] = False
    return outside
