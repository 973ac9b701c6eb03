"""Capability along judged curves: octave by octave, at the frequency where it is worst."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray
from station.quality.statistics.capability import FEWEST, Capability
from station.quality.watching.curves import JudgedCurves, name_at
from station.quality.watching.numbers import Series, capability_of


@dataclass(frozen=True, slots=True, eq=False)
class OctaveCapability:
    """The least capable frequency of one octave of a judged curve.

    `centre_hz` names the octave; `series` holds what the units have at `at_hz`.
    """

    reading: str
    centre_hz: float
    at_hz: float
    series: Series
    capability: Capability


def octave_capabilities(every: Iterable[JudgedCurves], size: int) -> tuple[OctaveCapability, ...]:
    """Return the capability of every octave of every curve that there are units enough of.

    Within an octave the frequency is chosen by Ppk as if the values were normal; there, all is
    computed as for a number, by percentiles where they are not normal. The interval is that of
    this frequency alone: it does not know that the frequency was chosen as the worst.
    """
    return tuple(one for curves in every for one in octaves_of(curves, size))


def octaves_of(curves: JudgedCurves, size: int) -> Iterator[OctaveCapability]:
    """Yield the octaves of one curve, rising."""
    whole = np.flatnonzero(np.isfinite(curves.values).all(axis=1))
    values, runs = curves.values[whole], tuple(curves.runs[row] for row in whole)
    if values.shape[0] < max(FEWEST, 2 * size):
        return
    index = plain_indices(values, curves.lower, curves.upper)
    octave = np.floor(np.log2(curves.frequency_hz / 1000.0) + 0.5)
    for number in np.unique(octave):
        inside = np.flatnonzero((octave == number) & np.isfinite(index))
        if inside.size == 0:
            continue
        at = int(inside[np.argmin(index[inside])])
        at_hz = float(curves.frequency_hz[at])
        series = Series(
            curves.model,
            name_at(curves.reading, at_hz),
            curves.unit,
            (float(curves.lower[at]), float(curves.upper[at])),
            values[:, at],
            runs,
        )
        if (found := capability_of(series, size)) is not None:
            centre_hz = 1000.0 * 2.0 ** float(number)
            yield OctaveCapability(curves.reading, centre_hz, at_hz, series, found)


def plain_indices(values: FloatArray, lower: FloatArray, upper: FloatArray) -> FloatArray:
    """Return Ppk as if normal at every frequency; infinite where nothing varies or is judged."""
    mean, spread = values.mean(axis=0), values.std(axis=0, ddof=1)
    room = np.minimum(upper - mean, mean - lower)
    index: FloatArray = np.full(mean.shape, np.inf)
    np.divide(room, 3.0 * spread, out=index, where=spread > 0.0)
    return index


def worst_of(every: Iterable[OctaveCapability]) -> OctaveCapability | None:
    """Return the octave with the least Ppk; None if there is none."""
    return min(every, key=lambda one: one.capability.ppk.value, default=None)
