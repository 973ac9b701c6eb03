"""A microphone's own response, as its certificate states it, put into what it hears."""

from __future__ import annotations

import numpy as np

from station.hardware.files.microphonefile import MicrophoneCorrection
from station.simulation.arrays import ComplexArray, FloatArray
from station.simulation.physics.grid import TimeGrid

ROUND_DEG = 360.0


def through_capsule(
    pressure_pa: FloatArray, correction: MicrophoneCorrection | None, grid: TimeGrid
) -> FloatArray:
    """Return what a microphone makes of a pressure; an ideal one, the pressure itself."""
    if correction is None:
        return pressure_pa
    ratio = capsule_ratio(correction, grid.frequency_hz)
    return grid.signal(grid.spectrum(pressure_pa) * ratio)


def capsule_ratio(correction: MicrophoneCorrection, frequency_hz: FloatArray) -> ComplexArray:
    """Return output over pressure: straight between the stated points, over octaves."""
    stated_octaves = np.log2(np.array(correction.frequency_hz))
    octaves = np.log2(frequency_hz)
    turned_deg = np.unwrap(np.array(correction.phase_deg), period=ROUND_DEG)
    nepers = np.interp(octaves, stated_octaves, correction.level_db) * (np.log(10.0) / 20.0)
    radians = np.radians(np.interp(octaves, stated_octaves, turned_deg))
    return np.asarray(np.exp(nepers + 1j * radians))
