"""Tolerance limits out of the limit text that a run was judged by.

The stored text is read as plain TOML: it was checked when the run was made, perhaps by an older
version of the software, whose files need not pass today's checks.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from station.analysis.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class Tolerances:
    """Limits on numbers, and breakpoints [hz, lower, upper] of bands, by reading."""

    numbers: Mapping[str, tuple[float, float]]
    bands: Mapping[str, tuple[tuple[float, float, float], ...]]

    def width(self, curve: str, frequency_hz: FloatArray) -> FloatArray:
        """Return how wide a curve's band is; NaN outside it, infinite where a side is open."""
        points = np.array(self.bands[curve])
        at, known = np.log(frequency_hz), np.log(points[:, 0])
        width: FloatArray = np.interp(
            at, known, points[:, 2] - points[:, 1], left=math.nan, right=math.nan
        )
        return width


def tolerances_of(limit_text: str) -> Tolerances:
    """Return the tolerance limits of a limit file's text; the first of several on one reading."""
    contents = tomllib.loads(limit_text)
    numbers: dict[str, tuple[float, float]] = {}
    for entry in tables(contents, "numbers"):
        limits = float(entry.get("lower", -math.inf)), float(entry.get("upper", math.inf))
        numbers.setdefault(entry["reading"], limits)
    bands: dict[str, tuple[tuple[float, float, float], ...]] = {}
    for entry in tables(contents, "bands"):
        points = tuple((float(hz), float(low), float(high)) for hz, low, high in entry["points"])
        bands.setdefault(entry["reading"], points)
    return Tolerances(numbers, bands)


def with_numbers(known: Tolerances, more: Mapping[str, tuple[float, float]]) -> Tolerances:
    """Return tolerances with limits on more numbers."""
    return Tolerances({**known.numbers, **more}, known.bands)


def tables(contents: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    """Return an array of tables, empty if there is none."""
    found: list[Mapping[str, Any]] = contents.get(name, [])
    return found
