"""Readings: one number or one curve computed from a recording, with its unit."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from station.analysis.arrays import FloatArray, read_only


@dataclass(frozen=True, slots=True, eq=False)
class Number:
    """One value with its unit ("dB", "Hz", "Ω", "ratio"); NaN where it could not be computed.

    `uncertainty` is the standard uncertainty, in the same unit, of what the recording itself may
    have moved the value by: its noise, or what a fit could not explain. It holds nothing of the
    calibration and nothing of a model that is too simple. NaN where it is not stated.

    Two numbers are equal if value, unit and uncertainty are; what is not stated equals what is
    not stated.
    """

    value: float
    unit: str
    uncertainty: float = math.nan

    def __post_init__(self) -> None:
        if self.uncertainty < 0.0:
            raise ValueError(f"an uncertainty is zero or above; got {self.uncertainty}")

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Number):
            return NotImplemented
        stated = self.uncertainty == other.uncertainty or (
            math.isnan(self.uncertainty) and math.isnan(other.uncertainty)
        )
        return stated and self.value == other.value and self.unit == other.unit

    def __hash__(self) -> int:
        return hash((self.value, self.unit))


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Values over frequency.

    Values are rounded to single precision when the curve is made, because that is what the log
    keeps: the curve that was judged and the curve that is judged again are the same, bit for bit.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n,)
        Rising, in Hz.
    values : ndarray, shape (n,)
        In `unit`; NaN where the reading could not be computed.
    """

    frequency_hz: FloatArray
    values: FloatArray
    unit: str

    def __post_init__(self) -> None:
        if self.frequency_hz.ndim != 1 or self.frequency_hz.shape != self.values.shape:
            raise ValueError(
                f"need two shapes (n,); got {self.frequency_hz.shape} and {self.values.shape}"
            )
        if np.any(np.diff(self.frequency_hz) <= 0.0):
            raise ValueError("frequencies must rise")
        with np.errstate(over="ignore"):  # beyond single precision is infinite, not a warning
            stored = self.values.astype(np.float32).astype(np.float64)
        object.__setattr__(self, "frequency_hz", read_only(self.frequency_hz))
        object.__setattr__(self, "values", read_only(stored))


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Everything computed from one recording, by reading name.

    `missing` says, for a reading that was asked for and could not be computed, why: two
    sentences, what happened and the remedy.
    """

    numbers: Mapping[str, Number] = field(default_factory=dict)
    curves: Mapping[str, Curve] = field(default_factory=dict)
    missing: Mapping[str, tuple[str, str]] = field(default_factory=dict)
