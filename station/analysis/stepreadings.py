"""What further sweeps at rising levels tell: where a unit plays less than in proportion."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from station.analysis.acoustic.compression import band_compression
from station.analysis.acoustic.response import response_level
from station.analysis.gathering import COMPRESSION_NAMES, attempted, merged, missing
from station.analysis.plan import CompressionPlan, Plan, ResponsePlan
from station.analysis.readings import Curve, Number, Readings
from station.analysis.recording import Recording, Role
from station.analysis.signals.spectra import spectra_of
from station.analysis.signals.sweep import sweep_voltage
from station.analysis.signals.transfer import gated_transfer
from station.analysis.trust.integrity import CLIPPED_FROM
from station.errors import NoSignalError

HEARD: tuple[Role, ...] = ("microphone", "voltage")
FEWEST_STEPS = 2
PER_VOLT = 1.0  # responses are compared with each other only


def step_readings(recording: Recording, plan: Plan) -> Iterator[Readings]:
    """Yield all readings of the sweeps that followed the main one."""
    if (compression := plan.compression) is not None:
        yield attempted(COMPRESSION_NAMES, lambda: compression_readings(recording, compression))


def compression_readings(recording: Recording, plan: CompressionPlan) -> Readings:
    """Return the compression at the highest level, and the voltage at which it sets in."""
    if len(recording.steps) < FEWEST_STEPS:
        raise NoSignalError(
            "The recording holds no sweeps at rising levels.",
            "Record the unit again with this limit file.",
        )
    drives_v, curves = zip(*(step_response(step, plan) for step in recording.steps), strict=True)
    if not all(after > before for before, after in pairwise((0.0, *drives_v))):
        raise NoSignalError(
            "The voltage at the terminals does not rise from sweep to sweep.",
            "Check the amplifier and the voltage input, then test again.",
        )
    (found,) = band_compression(
        curves[0].frequency_hz,
        np.array(drives_v),
        np.stack([curve.values for curve in curves]),
        [(plan.from_hz, plan.to_hz)],
        plan.reached_db,
    )
    highest = Readings(numbers={"compression": Number(float(found.compression_db[-1]), "dB")})
    if found.onset_v is None:
        onset = missing(
            ("compression_onset",),
            f"No compression of {plan.reached_db:g} dB sets in up to {drives_v[-1]:.2f} V.",
            "If a limiter should work there, check it; else judge the compression alone.",
        )
    else:
        onset = Readings(numbers={"compression_onset": Number(found.onset_v, "V")})
    return merged((highest, onset))


def step_response(step: Recording, plan: CompressionPlan) -> tuple[float, Curve]:
    """Return the measured drive of one sweep, and the response to it."""
    for role in HEARD:
        if np.max(np.abs(step.full_scale_samples(role))) >= CLIPPED_FROM:
            raise NoSignalError(
                f"The {role} input clipped in the sweep at {step.sweep.level_v:g} V.",
                "Lower the gain of that input and correct its full scale in the station file.",
            )
    response = gated_transfer(spectra_of(step), "microphone", plan.gate_s)
    asked = ResponsePlan(plan.from_hz, plan.to_hz, plan.bands_per_octave, plan.gate_s, PER_VOLT)
    curve = response_level(response, asked, step.sweep, step.distance_m)
    played_ratio = np.linalg.norm(step.in_unit("voltage")) / np.linalg.norm(
        sweep_voltage(step.sweep)
    )
    return float(played_ratio) * step.sweep.level_v, curve
