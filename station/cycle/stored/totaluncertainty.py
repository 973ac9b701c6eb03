"""How uncertain a number of a run is, its recording and the calibration behind it together."""

from __future__ import annotations

import math
from collections.abc import Mapping

from station.analysis.readings import Number
from station.analysis.statistics.uncertainty import Estimate, combined, relative_uncertainty_ratio
from station.records.kept.run import UsedCalibration

COVERAGE_FACTOR = 2.0  # about 95 % (JCGM 100:2008, 6.3.3)
LEVELS_IN_AIR = ("sensitivity", "idle_noise")  # whose zero is 20 µPa
SECTION_LEVEL = "level."  # against the reference unit, which another calibration was good for
OF_THE_CURRENT = ("Ω", "F", "H")  # units of what is voltage over current


def expanded_uncertainty(
    name: str, number: Number, calibrations: Mapping[str, UsedCalibration | None]
) -> float | None:
    """Return the expanded uncertainty (k = 2) of a number, in its own unit.

    None if one of its two parts is not known: the recording's own is not stated, or the input was
    not calibrated; and for a number that depends on no calibration.
    """
    calibration = uncertainty_of_calibration(name, number, calibrations)
    if calibration is None or math.isnan(number.uncertainty):
        return None
    parts = (Estimate(number.value, number.uncertainty), Estimate(0.0, calibration))
    total = combined(lambda inputs: float(inputs[0] + inputs[1]), parts)
    return COVERAGE_FACTOR * total.standard_uncertainty


def uncertainty_of_calibration(
    name: str, number: Number, calibrations: Mapping[str, UsedCalibration | None]
) -> float | None:
    """Return the standard uncertainty that calibration adds to a number, None if none is known."""
    if name in LEVELS_IN_AIR or name.startswith(SECTION_LEVEL):
        microphone = calibrations.get("microphone")
        return None if microphone is None else microphone.standard_uncertainty_db
    if number.unit in OF_THE_CURRENT:
        current = calibrations.get("current")
        if current is None:
            return None
        return abs(number.value) * relative_uncertainty_ratio(current.standard_uncertainty_db)
    return None
