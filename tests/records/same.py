"""Whether two runs or recordings are the same, bit for bit, NaN included."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np


def same(one: Any, other: Any) -> bool:
    """Return whether two values agree in type, bits and the order of mappings."""
    if isinstance(one, np.ndarray):
        return (
            one.dtype == other.dtype
            and one.shape == other.shape
            and one.tobytes() == (other.tobytes())
        )
    if is_dataclass(one):
        return type(one) is type(other) and all(
            same(getattr(one, field.name), getattr(other, field.name)) for field in fields(one)
        )
    if isinstance(one, Mapping):
        return list(one) == list(other) and all(same(one[key], other[key]) for key in one)
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, float):
        return isinstance(other, float) and (
            one == other or (math.isnan(one) and math.isnan(other))
        )
    return type(one) is type(other) and one == other
