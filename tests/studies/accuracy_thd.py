"""How exact total harmonic distortion is, by its level and by the length of the sweep.

A memoryless Chebyshev distortion makes harmonics 2 to 5 in closed form: T_n(cos x) = cos(n x).
A filter like a loudspeaker's stands behind it. Run by `python -m tests.studies.accuracy_thd`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from station.analysis.acoustic.harmonics import harmonic_distortion
from station.analysis.arrays import FloatArray
from station.analysis.plan import DistortionPlan
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.sweep import Sweep, sweep_voltage
from station.analysis.signals.transfer import gated_transfer
from tests.analysis.distorted import heard, loudspeaker, recording_of, sweep_of
from tests.studies.tables import hertz, table

ORDERS = (2, 3, 4, 5)
LEVELS_DB = (-20.0, -30.0, -40.0, -50.0, -60.0, -70.0, -80.0)
DURATIONS_S = (0.5, 1.0, 2.0, 3.0)
# The 20 Hz band begins at 17.8 Hz, inside the fade-in; above 16 kHz no order stays in the sweep.
PLAN = DistortionPlan(20.0, 16e3, 3, ORDERS)
GATE_S = 0.1
CLAIM_DB = 0.1
ROOM_DB_SPL = 45.0
BAND_POINTS = 800


@dataclass(frozen=True, slots=True, eq=False)
class ThdError:
    """Measured minus true total harmonic distortion, by excitation frequency."""

    frequency_hz: FloatArray
    error_db: FloatArray

    def worst_db(self, from_hz: float, to_hz: float) -> float:
        """Return the largest error between two frequencies, both nominal."""
        inside = (self.frequency_hz > from_hz / 1.02) & (self.frequency_hz < to_hz * 1.02)
        return float(np.max(np.abs(self.error_db[inside])))

    def holds_from_hz(self, within_db: float) -> float:
        """Return the lowest band from which no error is larger, NaN if there is none."""
        beyond = np.flatnonzero(~(np.abs(self.error_db) <= within_db))
        first = int(beyond[-1]) + 1 if beyond.size else 0
        return float(self.frequency_hz[first]) if first < self.frequency_hz.size else math.nan

    def holds_to_hz(self, within_db: float) -> float:
        """Return the highest band up to which no error from 100 Hz is larger, else NaN."""
        read = self.frequency_hz > 99.0
        small = np.abs(self.error_db[read]) <= within_db
        count = int(np.argmin(np.append(small, False)))
        return float(self.frequency_hz[read][count - 1]) if count else math.nan


def thd_errors(
    duration_s: float, levels_db: Sequence[float], room_db_spl: float | None = None
) -> Mapping[float, ThdError]:
    """Return the error at each level of distortion; the harmonics share it equally."""
    sweep = sweep_of(duration_s)
    linear_pa = heard(sweep, {1: 0.0}, loudspeaker)
    # Polynomials are added: what they add at 0 dB, less at every other level.
    added_pa = heard(sweep, dict.fromkeys(ORDERS, len(ORDERS) ** -0.5), loudspeaker) - linear_pa
    noise_pa = np.zeros(sweep.n_samples)
    if room_db_spl is not None:
        rng = np.random.default_rng(45)
        noise_pa = 20e-6 * 10.0 ** (room_db_spl / 20.0) * rng.standard_normal(sweep.n_samples)
    errors = {}
    for level_db in levels_db:
        pressure_pa = linear_pa + 10.0 ** (level_db / 20.0) * added_pa + noise_pa
        errors[level_db] = thd_error(sweep, pressure_pa, level_db)
    return errors


def thd_error(sweep: Sweep, pressure_pa: FloatArray, level_db: float) -> ThdError:
    """Return measured minus true distortion of one recording."""
    spectra = spectra_of(recording_of(sweep, pressure_pa, sweep_voltage(sweep)))
    response = gated_transfer(spectra, "microphone", GATE_S)
    result = harmonic_distortion(spectra, response, PLAN)
    truth_db = level_db + relative_truth_db(result.frequency_hz, sweep.stop_hz)
    return ThdError(result.frequency_hz, result.thd_db - truth_db)


def relative_truth_db(centres_hz: FloatArray, stop_hz: float) -> FloatArray:
    """Return what the filter makes of a total of 0 dB, orders beyond the sweep's end left out.

    |P(n f) / P(f)| with the powers averaged over IEC 61260-1 third octaves.
    """
    half = 10.0**0.05
    places = (np.arange(BAND_POINTS) + 0.5) / BAND_POINTS
    band_hz = centres_hz * (1.0 / half + places[:, np.newaxis] * (half - 1.0 / half))
    fundamental = np.mean(np.abs(loudspeaker(band_hz)) ** 2, axis=0)
    total = np.zeros_like(centres_hz)
    for order in ORDERS:
        harmonic = np.mean(np.abs(loudspeaker(order * band_hz)) ** 2, axis=0) / len(ORDERS)
        total += np.where(order * centres_hz * half <= stop_hz, harmonic, 0.0)
    level_db: FloatArray = 10.0 * np.log10(total / fundamental)
    return level_db


def printed(durations_s: Sequence[float], levels_db: Sequence[float]) -> str:
    """Return the tables: worst errors and where 0.1 dB holds, quiet and in a room with noise."""
    parts = []
    for room_db_spl in (None, ROOM_DB_SPL):
        where = "silent room" if room_db_spl is None else f"{room_db_spl:.0f} dB SPL white noise"
        rows = []
        for duration_s in durations_s:
            for level_db, error in thd_errors(duration_s, levels_db, room_db_spl).items():
                rows.append(
                    [
                        f"{duration_s:g} s",
                        f"{level_db:.0f} dB",
                        *(f"{error.worst_db(low, 3e3):.3f} dB" for low in (20.0, 40.0, 100.0)),
                        f"{error.worst_db(3150.0, 16e3):.3f} dB",
                        hertz(error.holds_from_hz(CLAIM_DB)),
                        hertz(error.holds_to_hz(CLAIM_DB)),
                    ]
                )
        head = ["sweep", "THD", "20 Hz-3 kHz", "40 Hz-3 kHz", "100 Hz-3 kHz", "3-16 kHz"]
        parts.append(table(f"Worst error of THD, {where}", [*head, "0.1 dB from", "to"], rows))
    return "\n".join(parts)


if __name__ == "__main__":
    print(printed(DURATIONS_S, LEVELS_DB))
