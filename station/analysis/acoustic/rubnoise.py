"""How much of a silence the reading of rub and buzz would hear above each frequency."""

from __future__ import annotations

import numpy as np
import scipy.signal

from station.analysis.arrays import FloatArray
from station.analysis.plan import RubPlan

SEGMENT = 1024  # samples of one periodogram of the silence


def power_above(
    silence_pa: FloatArray, rate_hz: float, plan: RubPlan
) -> tuple[FloatArray, FloatArray]:
    """Return frequencies, and the power between each of them and the top of what is heard."""
    frequency_hz, density = scipy.signal.welch(silence_pa, rate_hz, nperseg=SEGMENT)
    heard = (frequency_hz >= plan.heard_from_hz) & (frequency_hz <= plan.heard_to_hz)
    step_hz = frequency_hz[1]
    density = np.where(heard, density, 0.0)
    power = np.cumsum(density[::-1])[::-1] * step_hz
    return frequency_hz, power
