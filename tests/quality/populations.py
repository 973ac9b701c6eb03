"""Curve populations of known statistics: the truth that limits are learned of."""

from __future__ import annotations

import numpy as np

from station.analysis.readings import Curve, Number, Readings
from station.judging.files.limit_file import limit_file_from_text
from tests.judging.example import LIMITS
from tests.quality.manyunits import RESPONSE_HZ

FILE = limit_file_from_text(LIMITS, "x.toml")
POINTS = RESPONSE_HZ.size
LEVEL_DB, RIPPLE_DB = 0.4, 0.3


def smooth_readings(rng: np.random.Generator, count: int, correlation: float) -> list[Readings]:
    """Return units whose curve is a common level and a first-order chain of ripples, all normal."""
    ripple = rng.standard_normal((count, POINTS))
    for point in range(1, POINTS):
        fresh = np.sqrt(1.0 - correlation**2) * ripple[:, point]
        ripple[:, point] = correlation * ripple[:, point - 1] + fresh
    level = rng.standard_normal((count, 1))
    curves = 86.0 + LEVEL_DB * level + RIPPLE_DB * ripple * np.linspace(1.0, 3.0, POINTS)
    sensitivity = 86.0 + 0.2 * rng.standard_normal(count)
    return [
        Readings(
            {"sensitivity": Number(float(number), "dB"), "polarity.woofer": Number(0.99, "ratio")},
            {"response": Curve(RESPONSE_HZ, curve, "dB")},
        )
        for curve, number in zip(curves, sensitivity, strict=True)
    ]
