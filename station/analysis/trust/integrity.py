"""What makes a recording worthless, as far as the samples of its channels tell."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

import numpy as np

from station.analysis.acoustic.ambient import ambient_level, ambient_role
from station.analysis.arrays import FloatArray
from station.analysis.plan import IntegrityPlan, Plan, needed_roles
from station.analysis.readings import Number
from station.analysis.recording import Recording, Role
from station.analysis.signals.bands import NOMINAL_RATIO
from station.analysis.signals.spectra import full_level_to_hz
from station.analysis.signals.sweep import FADE_OUT_OCTAVES, Sweep
from station.errors import NoSignalError

FaultKind = Literal[
    "missing_channel",
    "incomplete",
    "device",
    "invalid_samples",
    "beyond_full_scale",
    "rate",
    "band",
    "silent",
    "clipped",
    "ambient",
    "swapped",
    "voltage_absent",
    "voltage_level",
    "clock",
    "samples_lost",
    "amplifier_clipping",
    "voltage_noisy",
    "current_sense",
    "current_reversed",
    "not_connected",
]

# With one of these there is nothing to compute.
FATAL_KINDS: frozenset[FaultKind] = frozenset(
    {
        "missing_channel",
        "incomplete",
        "beyond_full_scale",
        "rate",
        "band",
        "swapped",
        "voltage_absent",
    }
)

WORDS: Mapping[FaultKind, tuple[str, str]] = MappingProxyType(
    {
        "missing_channel": (
            "The recording lacks a channel that the readings need.",
            "Add the channel to the station file, or use a recording that has it.",
        ),
        "incomplete": (
            "The recording is shorter than the sweep.",
            "Test the unit again; if it happens again, check the audio device.",
        ),
        "device": (
            "The audio device reported trouble while it recorded.",
            "Test the unit again; if it happens again, close other programs on this computer.",
        ),
        "invalid_samples": (
            "The audio device delivered samples that are no numbers.",
            "Test the unit again; if it happens again, restart the audio device.",
        ),
        "beyond_full_scale": (
            "The recording holds values that no input can deliver.",
            "Check the audio device's settings, or the file's format.",
        ),
        "rate": (
            "The sampling rate is too low for a reading.",
            "Raise the sampling rate, or lower the reading's upper end in the limit file.",
        ),
        "band": (
            "The sweep does not hold all frequencies of a reading.",
            "Correct the sweep or the reading's range in the limit file.",
        ),
        "silent": (
            "An input is dead.",
            "Check the cable of this input and the supply of its sensor.",
        ),
        "clipped": (
            "An input was overloaded.",
            "Lower the gain of this input, and correct its scale factor in the station file.",
        ),
        "ambient": (
            "It is too loud around the station.",
            "Wait for quiet or close the fixture, then test again.",
        ),
        "swapped": (
            "The voltage is not on the voltage input but on another one.",
            "Swap the two inputs' cables back.",
        ),
        "voltage_absent": (
            "There was no voltage at the unit's terminals.",
            "Check that the power amplifier is on and its cables are plugged in.",
        ),
        "voltage_level": (
            "The voltage at the unit's terminals is wrong.",
            "Check the power amplifier's gain setting.",
        ),
        "clock": (
            "The output and the inputs run on two clocks, which drift apart.",
            "Play and record with one audio device, or lock the clocks of both together.",
        ),
        "samples_lost": (
            "Samples were lost or repeated during the sweep.",
            "Test the unit again; if it happens again, close other programs on this computer.",
        ),
        "amplifier_clipping": (
            "The power amplifier distorted.",
            "Check the amplifier, and the unit for a short circuit.",
        ),
        "voltage_noisy": (
            "The voltage input is noisy.",
            "Check the cable and the gain of the voltage input.",
        ),
        "current_sense": (
            "No current was measured though the unit played.",
            "Check the cable of the current input.",
        ),
        "current_reversed": (
            "The current flows against the voltage, as a speaker's cannot.",
            "Swap the two wires of the current sense, or those of the voltage input.",
        ),
        "not_connected": (
            "The unit drew no current and made no sound.",
            "Check that the unit is connected, then test again.",
        ),
    }
)

# Converters rarely hold exactly at full scale; three samples in a row are no single peak.
CLIPPED_FROM = 0.999
CLIPPED_RUN_SAMPLES = 3


@dataclass(frozen=True, slots=True)
class IntegrityFault:
    """One reason why a recording cannot be trusted.

    Parameters
    ----------
    kind : FaultKind
        What is wrong.
    role : Role or None
        The channel concerned, if it is one.
    detail : mapping of str to Number
        What was found and what is allowed, by name.
    reading : str
        The reading concerned, if it is one.
    """

    kind: FaultKind
    role: Role | None = None
    detail: Mapping[str, Number] = field(default_factory=dict)
    reading: str = ""

    @property
    def happened(self) -> str:
        """One sentence for the operator."""
        return WORDS[self.kind][0]

    @property
    def remedy(self) -> str:
        """What to do about it, one sentence."""
        return WORDS[self.kind][1]


def sample_faults(recording: Recording, plan: Plan) -> tuple[IntegrityFault, ...]:
    """Return the faults that show in the samples and the settings alone.

    Parameters
    ----------
    recording : Recording
        Any.
    plan : Plan
        The readings asked for, and what is allowed.

    Returns
    -------
    tuple of IntegrityFault
        The gravest kinds first; empty if there are none.

    Raises
    ------
    NoSignalError
        Never; a lead-in in which nothing can be heard makes no fault here.

    References
    ----------
    .. [1] Common practice, no source.
    """
    peaks = peaks_of(recording)
    return (
        *missing_channels(recording, plan),
        *delivery_faults(recording),
        *beyond_full_scale(peaks),
        *range_faults(recording.sweep, plan),
        *silent_channels(recording, plan.integrity),
        *clipped_channels(recording, peaks),
        *ambient_fault(recording, plan.integrity),
    )


def missing_channels(recording: Recording, plan: Plan) -> Iterator[IntegrityFault]:
    """Yield each role that the plan needs and the recording lacks."""
    for role in needed_roles(plan):
        if role not in recording.roles:
            yield IntegrityFault("missing_channel", role)


def delivery_faults(recording: Recording) -> Iterator[IntegrityFault]:
    """Yield what the audio device did wrong."""
    if recording.n_samples < recording.sweep.n_samples:
        found = Number(recording.n_samples / recording.rate_hz, "s")
        needed = Number(recording.sweep.n_samples / recording.rate_hz, "s")
        yield IntegrityFault("incomplete", None, {"found": found, "needed": needed})
    if recording.device_flags:
        flags = Number(float(len(recording.device_flags)), "flags")
        yield IntegrityFault("device", None, {"found": flags})
    for role, invalid in zip(recording.roles, recording.invalid_samples, strict=False):
        if invalid:
            found = Number(float(invalid), "samples")
            yield IntegrityFault("invalid_samples", role, {"found": found})


def peaks_of(recording: Recording) -> Mapping[Role, float]:
    """Return each channel's peak relative to full scale."""
    if recording.n_samples == 0:
        return {}
    channels = {role: recording.full_scale_samples(role) for role in recording.roles}
    return {role: max(float(x.max()), -float(x.min())) for role, x in channels.items()}


def beyond_full_scale(peaks: Mapping[Role, float]) -> Iterator[IntegrityFault]:
    """Yield channels with values that no converter delivers."""
    for role, peak in peaks.items():
        if peak > 1.0:
            yield IntegrityFault("beyond_full_scale", role, {"found": Number(peak, "ratio")})


def range_faults(sweep: Sweep, plan: Plan) -> Iterator[IntegrityFault]:
    """Yield each reading that the sweep or the sampling rate does not reach."""
    for reading, from_hz, to_hz in reading_ranges(plan):
        if to_hz * 2.0**FADE_OUT_OCTAVES >= 0.5 * sweep.rate_hz:
            kind: FaultKind = "rate"
            needed_hz, reached_hz = to_hz, 0.5 * sweep.rate_hz * 2.0**-FADE_OUT_OCTAVES
        elif to_hz > full_level_to_hz(sweep):
            kind, needed_hz, reached_hz = "band", to_hz, full_level_to_hz(sweep)
        elif from_hz * NOMINAL_RATIO < sweep.faded_in_hz:
            kind, needed_hz, reached_hz = "band", from_hz, sweep.faded_in_hz
        else:
            continue
        detail = {"needed": Number(needed_hz, "Hz"), "reached": Number(reached_hz, "Hz")}
        yield IntegrityFault(kind, None, detail, reading)


def reading_ranges(plan: Plan) -> Iterator[tuple[str, float, float]]:
    """Yield name, lowest and highest frequency of each reading asked for."""
    yield "response", plan.response.from_hz, plan.response.to_hz
    if plan.sensitivity is not None:
        yield "sensitivity", plan.sensitivity.from_hz, plan.sensitivity.to_hz
    if plan.distortion is not None:
        yield "thd", plan.distortion.from_hz, plan.distortion.to_hz
    if plan.rub is not None:
        yield "rub", plan.rub.from_hz, plan.rub.heard_to_hz
    if plan.impedance is not None:
        yield "impedance", plan.impedance.from_hz, plan.impedance.to_hz
        yield "impedance_min", plan.impedance.minimum_from_hz, plan.impedance.minimum_to_hz
    if plan.resonance is not None:
        yield "fs", plan.resonance.from_hz, plan.resonance.to_hz
    if plan.driver is not None:
        yield "re", plan.driver.from_hz, plan.driver.to_hz
    if plan.panel is not None:
        yield "panel_capacitance", plan.panel.from_hz, plan.panel.to_hz
    if plan.dipole is not None:
        yield "dipole", plan.dipole.from_hz, plan.dipole.to_hz
    for section in plan.sections:
        yield f"polarity.{section.name}", section.from_hz, section.to_hz


def silent_channels(recording: Recording, plan: IntegrityPlan) -> Iterator[IntegrityFault]:
    """Yield dead channels; a dead voltage or current is told apart elsewhere."""
    for role in recording.roles if recording.n_samples else ():
        if role in ("voltage", "current"):
            continue
        level_dbfs = rms_dbfs(recording.full_scale_samples(role))
        if level_dbfs < plan.silent_below_dbfs:
            detail = {
                "found": Number(level_dbfs, "dBFS"),
                "allowed": Number(plan.silent_below_dbfs, "dBFS"),
            }
            yield IntegrityFault("silent", role, detail)


def rms_dbfs(samples: FloatArray) -> float:
    """Return a channel's RMS without its constant offset, in dB relative to full scale."""
    if samples.size == 0:
        return -math.inf
    mean_square = float(samples @ samples) / samples.size - float(np.mean(samples)) ** 2
    return 10.0 * math.log10(mean_square) if mean_square > 0.0 else -math.inf


def clipped_channels(recording: Recording, peaks: Mapping[Role, float]) -> Iterator[IntegrityFault]:
    """Yield channels that stay at full scale for some samples in a row."""
    for role, peak in peaks.items():
        if peak < CLIPPED_FROM:
            continue
        full = np.abs(recording.full_scale_samples(role)) >= CLIPPED_FROM
        edges = np.flatnonzero(np.diff(full, prepend=False, append=False))
        longest = int(np.max(edges[1::2] - edges[::2]))
        if longest >= CLIPPED_RUN_SAMPLES:
            found = Number(float(np.count_nonzero(full)), "samples")
            yield IntegrityFault("clipped", role, {"found": found})


def ambient_fault(recording: Recording, plan: IntegrityPlan) -> Iterator[IntegrityFault]:
    """Yield the fault of a room that is too loud; a dead microphone is found elsewhere."""
    if not {"microphone", "ambient"} & set(recording.roles):
        return
    try:
        level_db_spl = ambient_level(recording)
    except NoSignalError:
        return
    if level_db_spl > plan.quiet_below_db_spl:
        detail = {
            "found": Number(level_db_spl, "dB"),
            "allowed": Number(plan.quiet_below_db_spl, "dB"),
        }
        yield IntegrityFault("ambient", ambient_role(recording), detail)
