"""A quiet recording: what it must be to read noise from it, and the window it is read through."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from station.analysis.arrays import FloatArray
from station.errors import NoSignalError

SHORTEST_S = 0.25  # below, a Hann window does not keep 50 Hz and 60 Hz apart


def without_mean(pressure_pa: FloatArray, rate_hz: float) -> FloatArray:
    """Return a recording without its mean; refuse one that holds no noise to read."""
    if pressure_pa.ndim != 1 or not rate_hz > 0.0:
        raise ValueError(
            f"need shape (n,) and a rate above zero; got {pressure_pa.shape}, {rate_hz}"
        )
    if pressure_pa.size < SHORTEST_S * rate_hz or not np.isfinite(pressure_pa).all():
        raise NoSignalError(
            f"The quiet recording lasts {pressure_pa.size / rate_hz:.2f} s or has gaps.",
            "Record for longer, without interruption.",
        )
    if np.ptp(pressure_pa) == 0.0:
        raise NoSignalError(
            "The quiet recording holds no sound at all.", "Check the microphone and its cable."
        )
    rest: FloatArray = pressure_pa - pressure_pa.mean()
    return rest


@lru_cache(maxsize=8)
def hann(length: int) -> FloatArray:
    """Return a periodic Hann window; read-only."""
    window: FloatArray = 0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(length) / length)
    window.flags.writeable = False
    return window
