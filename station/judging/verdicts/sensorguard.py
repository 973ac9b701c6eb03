"""A fail that is off alike everywhere is a sensor's: no part of a unit moves all of it alike.

A microphone that lost sensitivity makes every section quieter by as much, a current sense every
impedance higher by as much. A weak magnet moves one section, a wrong part some frequencies. Told
only of units with two sections or more: one section alone could be off as a whole.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.readings import Number
from station.judging.verdicts.verdict import AppliedBand, Cause, Judgement, Verdict
from station.judging.words.words import quantity_words

LEVELS = re.compile(r"response|response\.offset|sensitivity|level\..+|pattern\..+")
IMPEDANCES = re.compile(
    r"impedance|impedance_min|impedance_margin|re|panel_capacitance|leakage_inductance"
)
# Sections and octaves of a good unit are off by chance, each its own way: a common cause shows
# when the least of them is off by nearly half as much as the most.
LEAST_OVER_MOST = 0.4
NARROW_RATIO = 0.1  # of |Z|: where a band is wider to either side, units differ too much to tell
FEWEST_OCTAVES = 4
CALIBRATE = "Have the technician calibrate the {role} input, then test the unit again."


def without_the_sensors(judgement: Judgement, numbers: Mapping[str, Number]) -> Judgement:
    """Return a fail as void if it is off alike everywhere, else as it is."""
    if judgement.verdict is not Verdict.FAIL:
        return judgement
    names = [cause.reading for cause in judgement.causes]
    if all(LEVELS.fullmatch(name) for name in names):
        offs_db = [number.value for name, number in numbers.items() if name.startswith("level.")]
        if alike(offs_db):
            off_db = float(np.mean(offs_db))
            side = "louder" if off_db > 0.0 else "quieter"
            happened = (
                f"All sections are {side} alike, by {quantity_words(abs(off_db), 'dB')}, "
                "as the microphone makes it and no part of a unit does."
            )
            return void_of_sensor(judgement, "microphone", happened)
    band = judgement.bands.get("impedance")
    if band is not None and all(IMPEDANCES.fullmatch(name) for name in names):
        offs = octave_medians(band)
        if alike(offs):
            percent = 100.0 * math.expm1(float(np.mean(offs)))
            side = "higher" if percent > 0.0 else "lower"
            happened = (
                f"The impedance is {side} at all frequencies alike, by {abs(percent):.0f} %, "
                "as the current input makes it and no part of a unit does."
            )
            return void_of_sensor(judgement, "current", happened)
    return judgement


def alike(offs: Sequence[float]) -> bool:
    """Return whether two or more are off to one side, the least nearly as much as the most."""
    if len(offs) < 2:
        return False
    least, most = sorted((min(offs), max(offs)), key=abs)
    return least * most > 0.0 and abs(least) >= LEAST_OVER_MOST * abs(most)


def octave_medians(band: AppliedBand) -> list[float]:
    """Return by how much a curve lies off the middle of its band, octave by octave, as ln.

    None where the band is open, or narrow in too few octaves.
    """
    middle, reach = 0.5 * (band.lower + band.upper), 0.5 * (band.upper - band.lower)
    narrow = np.isfinite(reach) & (reach < NARROW_RATIO * middle)
    off: FloatArray = np.log(band.values[narrow] / middle[narrow])
    octave = np.floor(np.log2(band.frequency_hz[narrow] / band.frequency_hz[0]) + 1e-9)
    present = np.unique(octave)
    if present.size < FEWEST_OCTAVES:
        return []
    return [float(np.median(off[octave == number])) for number in present]


def void_of_sensor(judgement: Judgement, role: str, happened: str) -> Judgement:
    """Return a fail as void because of an input."""
    remedy = CALIBRATE.format(role=role)
    cause = Cause(role, "untrusted", math.nan, "", None, 0.0, happened, remedy)
    return Judgement(Verdict.VOID, (cause,), remedy, judgement.margins, judgement.bands)
