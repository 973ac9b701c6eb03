"""How exact response and impedance are: known paths and circuits, one-second sweep.

The response is that of filters in closed form, applied exactly, with a latency and a flight of
broken samples; the impedance that of circuits which ngspice computed. Run by
`python -m tests.studies.accuracy_linear`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from station.analysis.acoustic.response import response_level, sensitivity
from station.analysis.arrays import ComplexArray, FloatArray
from station.analysis.electric.impedance import ImpedanceResult, impedance
from station.analysis.electric.resonance import resonance
from station.analysis.plan import ImpedancePlan, ResonancePlan, ResponsePlan, SensitivityPlan
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.sweep import sweep_voltage
from station.analysis.signals.transfer import gated_transfer
from tests.analysis.closedforms import (
    SWEEP,
    Path,
    played,
    sealed_box,
    true_band_power,
    two_way,
)
from tests.ngspice.truth import current_through, recording_of, truth_ohm
from tests.studies.tables import hertz, table

PASCAL_DB_SPL = 93.9794  # 20 lg(1 Pa / 20 µPa)
RESPONSE = ResponsePlan(40.0, 20e3, 12, 0.25, 2.83)
SENSITIVITY = SensitivityPlan(200.0, 4000.0)
IMPEDANCE = ImpedancePlan(20.0, 20e3, 12, 0.25, 100.0, 20e3)
LATENCY_SAMPLES, FLIGHT_SAMPLES = 1111.3, 280.4


def notched(frequency_hz: FloatArray) -> ComplexArray:
    """Return the sealed box with a dip of 12 dB and Q 4 at 3 kHz and a bump of 6 dB at 900 Hz."""
    s = 1j * frequency_hz
    dip = (s**2 + s * 3000.0 / 16.0 + 3000.0**2) / (s**2 + s * 3000.0 / 4.0 + 3000.0**2)
    bump = (s**2 + s * 900.0 / 2.0 + 900.0**2) / (s**2 + s * 900.0 / 4.0 + 900.0**2)
    return sealed_box(frequency_hz) * dip * bump


def vented_box(frequency_hz: FloatArray) -> ComplexArray:
    """Return a Butterworth high-pass of fourth order at 25 Hz, near the sweep's start."""
    s = 1j * frequency_hz / 25.0
    low = 1.0 + s**2 + 2.0 * math.sin(math.pi / 8.0) * s
    high = 1.0 + s**2 + 2.0 * math.cos(math.pi / 8.0) * s
    return np.asarray(0.3 * s**4 / (low * high))


def ringing_box(frequency_hz: FloatArray) -> ComplexArray:
    """Return a closed box with a Q of 2 at 22 Hz."""
    s = 1j * frequency_hz / 22.0
    return np.asarray(0.3 * s**2 / (s**2 + s / 2.0 + 1.0))


PATHS: Mapping[str, Path] = MappingProxyType(
    {
        "sealed box": sealed_box,
        "two-way": two_way,
        "dip and bump": notched,
        "vented box, 25 Hz": vented_box,
        "Q 2 at 22 Hz": ringing_box,
    }
)
# Resonance from the parts of the decks: 1 / (2 pi sqrt(L C)); moving_coil from Mms and Cms.
FS_HZ = MappingProxyType(
    {
        "driver": 1.0 / (2.0 * math.pi * math.sqrt(8e-3 * 500e-6)),
        "two_way": 1.0 / (2.0 * math.pi * math.sqrt(16e-3 * 470e-6)),
        "moving_coil": 1.0 / (2.0 * math.pi * math.sqrt(19.5e-3 * 0.62e-3)),
    }
)
CIRCUITS = ("driver", "two_way", "hybrid", "moving_coil", "panel")
# A transformer without a capacitor before it: its magnetizing current dies with 55 mH / 0.35 ohm
# = 0.16 s, no faster than the gate closes, which smears what lies below 100 Hz.
FROM_HZ = MappingProxyType({"panel": 100.0})
# Where |Z| has its minimum, on either side of which it rises.
MINIMA = MappingProxyType({"hybrid": (15e3, 30e3), "panel": (15e3, 30e3), "two_way": (80.0, 600.0)})


@dataclass(frozen=True, slots=True, eq=False)
class ResponseError:
    """Response and sensitivity minus their closed forms, in dB."""

    frequency_hz: FloatArray
    error_db: FloatArray
    sensitivity_db: float

    @property
    def worst_db(self) -> float:
        """The largest error of the curve."""
        return float(np.max(np.abs(self.error_db)))

    @property
    def worst_hz(self) -> float:
        """Where it is."""
        return float(self.frequency_hz[int(np.argmax(np.abs(self.error_db)))])


def response_error(
    path: Path, bands_per_octave: int, from_hz: float = RESPONSE.from_hz
) -> ResponseError:
    """Return how far the response of a known path is from its closed form."""
    plan = ResponsePlan(from_hz, RESPONSE.to_hz, bands_per_octave, RESPONSE.gate_s, 2.83)
    recording = played(SWEEP, path, latency_samples=LATENCY_SAMPLES, flight_samples=FLIGHT_SAMPLES)
    response = gated_transfer(spectra_of(recording), "microphone", plan.gate_s)
    curve = response_level(response, plan, SWEEP, 1.0)
    level_db = PASCAL_DB_SPL + 20.0 * math.log10(2.83)
    power = true_band_power(path, curve.frequency_hz, bands_per_octave)
    found_db = sensitivity(response, SENSITIVITY, plan, SWEEP, 1.0)
    inside = (curve.frequency_hz > SENSITIVITY.from_hz / 1.01) & (
        curve.frequency_hz < SENSITIVITY.to_hz * 1.01
    )
    return ResponseError(
        curve.frequency_hz,
        curve.values - 10.0 * np.log10(power) - level_db,
        found_db - 10.0 * math.log10(float(np.mean(power[inside]))) - level_db,
    )


@dataclass(frozen=True, slots=True)
class ImpedanceError:
    """Relative errors of |Z|, fs and the minimum, and that of the phase; NaN where none is read."""

    magnitude_ratio: float
    phase_deg: float
    fs_ratio: float
    minimum_ratio: float
    minimum_hz_ratio: float


def impedance_error(network: str) -> ImpedanceError:
    """Return how far the impedance of a circuit is from what ngspice says."""
    from_hz, to_hz = MINIMA.get(network, (100.0, 20e3))
    lowest_hz = FROM_HZ.get(network, IMPEDANCE.from_hz)
    plan = ImpedancePlan(lowest_hz, 20e3, 12, IMPEDANCE.gate_s, from_hz, to_hz)
    recording = recording_of(sweep_voltage(SWEEP), current_through(network, SWEEP), SWEEP)
    found = impedance(spectra_of(recording), plan)
    truth = truth_ohm(network, found.frequency_hz)
    phase_deg = np.degrees(np.angle(np.exp(1j * np.radians(found.phase_deg)) / truth))
    minimum_ratio = minimum_hz_ratio = math.nan
    if network in MINIMA:
        fine_hz = np.geomspace(from_hz, to_hz, 200_001)
        magnitude_ohm = np.abs(truth_ohm(network, fine_hz))
        lowest = int(np.argmin(magnitude_ohm))
        minimum_ratio = found.minimum_ohm / float(magnitude_ohm[lowest]) - 1.0
        minimum_hz_ratio = found.minimum_hz / float(fine_hz[lowest]) - 1.0
    return ImpedanceError(
        float(np.max(np.abs(found.magnitude_ohm / np.abs(truth) - 1.0))),
        float(np.max(np.abs(phase_deg))),
        fs_error_ratio(network, found),
        minimum_ratio,
        minimum_hz_ratio,
    )


def fs_error_ratio(network: str, found: ImpedanceResult) -> float:
    """Return the relative error of the resonance, NaN where the circuit has no clear one."""
    if network not in FS_HZ:
        return math.nan
    return resonance(found, ResonancePlan(25.0, 250.0)).fs_hz / FS_HZ[network] - 1.0


def printed() -> str:
    """Return both tables."""
    responses = []
    for from_hz, bands_per_octave in ((40.0, 3), (40.0, 12), (40.0, 24), (20.0, 12)):
        for name, path in PATHS.items():
            error = response_error(path, bands_per_octave, from_hz)
            responses.append(
                [
                    name,
                    f"1/{bands_per_octave}",
                    hertz(from_hz),
                    f"{error.worst_db:.4f} dB",
                    hertz(error.worst_hz),
                    f"{error.sensitivity_db:+.4f} dB",
                ]
            )
    impedances = []
    for network in CIRCUITS:
        found = impedance_error(network)
        impedances.append(
            [
                network,
                hertz(FROM_HZ.get(network, IMPEDANCE.from_hz)),
                f"{100.0 * found.magnitude_ratio:.4f} %",
                f"{found.phase_deg:.4f}°",
                *(
                    "-" if math.isnan(ratio) else f"{100.0 * ratio:+.4f} %"
                    for ratio in (found.fs_ratio, found.minimum_ratio, found.minimum_hz_ratio)
                ),
            ]
        )
    return "\n".join(
        [
            table(
                "Response, up to 20 kHz, against closed forms",
                ["path", "octave", "from", "worst", "at", "sensitivity"],
                responses,
            ),
            table(
                "Impedance, up to 20 kHz, against ngspice",
                ["circuit", "from", "|Z|", "phase", "fs", "minimum", "its frequency"],
                impedances,
            ),
        ]
    )


if __name__ == "__main__":
    print(printed())
