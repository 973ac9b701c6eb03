"""How well the response repeats beside noise in the room.

The same unit, 92 dB SPL at 1 m, is measured again and again by a one-second sweep while noise of
45 dB SPL, fresh each time, reaches the microphone. Two noises: white, even to half the sampling
rate, of which the level counts what lies between 20 Hz and 20 kHz; and pink, the same power in
every octave, which is the harder one where loudspeakers are weak. Run by
`python -m tests.studies.repeatability`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import scipy.fft

from station.analysis.acoustic.response import response_level
from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.plan import ResponsePlan
from station.analysis.recording import Recording
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.sweep import sweep_voltage
from station.analysis.signals.transfer import gated_transfer
from tests.analysis.closedforms import SWEEP, Path, recording_of, sealed_box, through
from tests.studies.tables import hertz, table

REPEATS = 50
SIGNAL_DB_SPL = 92.0
NOISE_DB_SPL = 45.0
CLAIM_DB = 0.03
FROM_HZ, TO_HZ = 40.0, 20e3
GATE_S = 0.25  # of the demo models
FLIGHT_SAMPLES = 280.4
HEARD_FROM_HZ, HEARD_TO_HZ = 20.0, 20e3
SEED = 20


def flat(frequency_hz: FloatArray) -> ComplexArray:
    """Return a unit without a bass limit: 92 dB SPL at all frequencies."""
    return np.full(frequency_hz.size, pascals(SIGNAL_DB_SPL) / SWEEP.level_v, dtype=np.complex128)


def bass_box(frequency_hz: FloatArray) -> ComplexArray:
    """Return a sealed box of 45 Hz, 92 dB SPL in its middle: 3 dB less at 47 Hz."""
    middle = abs(sealed_box(np.array([1000.0]))[0])
    return sealed_box(frequency_hz) * (pascals(SIGNAL_DB_SPL) / SWEEP.level_v / middle)


UNITS: Mapping[str, Path] = MappingProxyType({"flat": flat, "sealed box": bass_box})


def pascals(level_db_spl: float) -> float:
    """Return a pressure from its level re 20 µPa."""
    return 20e-6 * 10.0 ** (level_db_spl / 20.0)


def white(rng: np.random.Generator) -> FloatArray:
    """Return white noise of 1 Pa between 20 Hz and 20 kHz."""
    share = (HEARD_TO_HZ - HEARD_FROM_HZ) / (0.5 * SWEEP.rate_hz)
    return rng.standard_normal(SWEEP.n_samples) / math.sqrt(share)


def pink(rng: np.random.Generator) -> FloatArray:
    """Return pink noise of 1 Pa between 20 Hz and 20 kHz, and nothing outside."""
    n = SWEEP.n_samples
    frequency_hz = scipy.fft.rfftfreq(n, 1.0 / SWEEP.rate_hz)
    inside = (frequency_hz >= HEARD_FROM_HZ) & (frequency_hz <= HEARD_TO_HZ)
    amplitude = np.zeros(frequency_hz.size)
    amplitude[inside] = frequency_hz[inside] ** -0.5
    amplitude *= n / math.sqrt(2.0 * float(np.sum(amplitude**2)))
    parts = rng.standard_normal((2, frequency_hz.size)) / math.sqrt(2.0)
    noise: FloatArray = scipy.fft.irfft(amplitude * (parts[0] + 1j * parts[1]), n)
    return noise


NOISES: Mapping[str, Callable[[np.random.Generator], FloatArray]] = MappingProxyType(
    {"white": white, "pink": pink}
)


@dataclass(frozen=True, slots=True, eq=False)
class Repeatability:
    """Standard deviation of the response over the repeats, by band."""

    frequency_hz: FloatArray
    spread_db: FloatArray

    def by_octave_db(self) -> Mapping[float, tuple[float, float]]:
        """Return root mean square and largest spread of the bands in each octave."""
        octave = np.rint(np.log(self.frequency_hz / 1000.0) / math.log(10.0**0.3)).astype(int)
        found = {}
        for number in np.unique(octave):
            inside = self.spread_db[octave == number]
            rms_db = math.sqrt(float(np.mean(inside**2)))
            found[float(1000.0 * 10.0 ** (0.3 * number))] = (rms_db, float(np.max(inside)))
        return found


def repeated(
    unit: Path,
    noise: Callable[[np.random.Generator], FloatArray],
    bands_per_octave: int,
    *,
    repeats: int = REPEATS,
    gate_s: float = GATE_S,
    from_hz: float = FROM_HZ,
) -> Repeatability:
    """Return how the response of one unit repeats beside one noise."""
    rng = np.random.default_rng(SEED)
    plan = ResponsePlan(from_hz, TO_HZ, bands_per_octave, gate_s, SWEEP.level_v)
    drive_v = sweep_voltage(SWEEP)
    sound_pa = through(drive_v, unit, SWEEP.rate_hz, FLIGHT_SAMPLES)
    curves = []
    for _ in range(repeats):
        heard_pa = sound_pa + pascals(NOISE_DB_SPL) * noise(rng)
        curves.append(
            curve_of(recording_of(SWEEP, {"microphone": heard_pa, "voltage": drive_v}), plan)
        )
    frequency_hz = curves[0][0]
    return Repeatability(frequency_hz, np.std([values for _, values in curves], axis=0, ddof=1))


def curve_of(recording: Recording, plan: ResponsePlan) -> tuple[FloatArray, FloatArray]:
    """Return frequencies and levels of the response."""
    response = gated_transfer(spectra_of(recording), "microphone", plan.gate_s)
    curve = response_level(response, plan, recording.sweep, recording.distance_m)
    return curve.frequency_hz, curve.values


def printed(repeats: int) -> str:
    """Return a table for each fraction of an octave: octaves down, units and noises across."""
    parts = []
    for bands_per_octave in (12, 24):
        columns = {
            f"{unit}, {noise}": repeated(
                path, make, bands_per_octave, repeats=repeats
            ).by_octave_db()
            for unit, path in UNITS.items()
            for noise, make in NOISES.items()
        }
        rows = [
            [hertz(octave_hz)]
            + [
                f"{found[octave_hz][0]:.4f} ({found[octave_hz][1]:.4f})"
                for found in columns.values()
            ]
            for octave_hz in next(iter(columns.values()))
        ]
        title = (
            f"Spread of the response in dB over {repeats} repeats, 1/{bands_per_octave} octave, "
            f"{NOISE_DB_SPL:.0f} dB SPL of noise beside {SIGNAL_DB_SPL:.0f} dB SPL, "
            f"gate {GATE_S} s: rms (largest band)"
        )
        parts.append(table(title, ["octave", *columns], rows))
    return "\n".join(parts)


if __name__ == "__main__":
    print(printed(REPEATS))
