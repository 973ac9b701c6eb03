"""The facts without which samples mean nothing, as they stand inside or beside a recording.

A recording made by the station carries them as JSON in its comment. One made elsewhere may have
them in a TOML file beside it, `name.toml` for `name.wav` or `name.flac`; both hold the same keys:

    format = 1                            # of these facts; a newer one is refused
    serial = "TARN2-000123"               # this line and the next five may be left out
    model = "Tarn 2"
    revision = "A"
    run_id = "20260103T081500-7"
    started_utc = 2026-01-03T08:15:00Z    # ISO 8601, with Z or an offset
    station = "line 1"
    distance_m = 0.5                      # from the unit's front to the microphone
    device_flags = []                     # what the audio driver reported; may be left out
    invalid_samples = []                  # not finite, per channel of the file; may be left out

    [sweep]
    start_hz = 15.0
    faded_in_hz = 19.0
    stop_hz = 44000.0
    duration_s = 2.0
    level_v = 2.83                        # RMS at the unit's terminals
    lead_in_s = 0.2
    tail_s = 0.3
    rate_hz = 96000.0                     # must be the file's own

    [[channels]]                          # once for every channel of the file
    channel = 1                           # its number in the file, counted from 1
    role = "microphone"                   # or voltage, current, ambient, rear; each once
    unit = "Pa"                           # V for voltage, A for current
    full_scale = 63.2                     # instantaneous value, in that unit, at sample value 1.0

    [[steps]]                             # once for every sweep that followed in one piece, with
    start_hz = 20.0                       # the keys of [sweep]; left out where none did
    faded_in_hz = 25.0
    stop_hz = 63.0
    duration_s = 0.4
    level_v = 1.0
    lead_in_s = 0.15
    tail_s = 0.15
    rate_hz = 96000.0

    [microphone_response]                 # what is taken out; left out for an ideal microphone
    frequency_hz = [20.0, 1000.0, 20000.0]
    level_db = [0.1, 0.0, -1.5]           # relative to the frequency at which it was calibrated
    phase_deg = [0.0, 0.0, 0.0]           # relative to the ideal; zeros where it is not known
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from pydantic import (
    AwareDatetime,
    Field,
    ValidationError,
    ValidationInfo,
    field_validator,
    model_validator,
)

from station.analysis.recording import UNIT_OF_ROLE, Channel, Recording, Role
from station.analysis.signals.microphoneresponse import MicrophoneResponse
from station.analysis.signals.sweep import Sweep
from station.errors import RecordingFileError
from station.tomlfiles.loading import StrictModel, sentence

FORMAT = 1

Name = Annotated[str, Field(min_length=1)]
Positive = Annotated[float, Field(gt=0.0)]
Count = Annotated[int, Field(ge=0)]
# Far beyond any sensor; outside, products of samples would leave the range of numbers.
FullScale = Annotated[float, Field(ge=1e-9, le=1e9)]


@dataclass(frozen=True, slots=True)
class RecordingFacts:
    """Whose recording it is; None where a recording made elsewhere does not say."""

    serial: str | None = None
    model: str | None = None
    revision: str | None = None
    run_id: str | None = None
    started_utc: datetime | None = None
    station: str | None = None


class SweepTable(StrictModel):
    """The stimulus: every parameter of the sweep."""

    start_hz: Positive
    faded_in_hz: Positive
    stop_hz: Positive
    duration_s: Positive
    level_v: Positive
    lead_in_s: float
    tail_s: float
    rate_hz: Positive

    @model_validator(mode="after")
    def check_sweep(self) -> SweepTable:
        """Refuse parameters that make no sweep."""
        self.sweep()
        return self

    def sweep(self) -> Sweep:
        """Return the stimulus."""
        return Sweep(**self.model_dump())


class ChannelTable(StrictModel):
    """One channel of the file, counted from 1."""

    channel: Annotated[int, Field(ge=1)]
    role: Role
    unit: Name
    full_scale: FullScale

    @field_validator("unit")
    @classmethod
    def check_unit(cls, unit: str, info: ValidationInfo) -> str:
        """Refuse a unit that is not the role's: a scale factor in mPa would judge wrongly."""
        role = info.data.get("role")
        if role is not None and unit != UNIT_OF_ROLE[role]:
            raise ValueError(f"{role} is recorded in {UNIT_OF_ROLE[role]}, not in {unit}")
        return unit


class MicrophoneTable(StrictModel):
    """How the microphone departs from the ideal, in three lists of one length."""

    frequency_hz: tuple[float, ...]
    level_db: tuple[float, ...]
    phase_deg: tuple[float, ...]

    @model_validator(mode="after")
    def check_lists(self) -> MicrophoneTable:
        """Refuse lists that are no response."""
        self.response()
        return self

    def response(self) -> MicrophoneResponse:
        """Return the response."""
        lists = (self.frequency_hz, self.level_db, self.phase_deg)
        return MicrophoneResponse(*(np.array(values, dtype=np.float64) for values in lists))


class FactsTable(StrictModel):
    """All facts of one recording, from its comment or from the TOML file beside it."""

    format: Literal[1]
    serial: Name | None = None
    model: Name | None = None
    revision: Name | None = None
    run_id: Name | None = None
    started_utc: AwareDatetime | None = None
    station: Name | None = None
    distance_m: Positive
    sweep: SweepTable
    channels: Annotated[tuple[ChannelTable, ...], Field(min_length=1)]
    device_flags: tuple[str, ...] = ()
    invalid_samples: tuple[Count, ...] = ()
    microphone_response: MicrophoneTable | None = None
    steps: tuple[SweepTable, ...] | None = None

    @field_validator("channels")
    @classmethod
    def check_channels(cls, channels: tuple[ChannelTable, ...]) -> tuple[ChannelTable, ...]:
        """Refuse a role or a number used twice, and a number left out."""
        roles = [table.role for table in channels]
        if len(set(roles)) != len(roles):
            raise ValueError("a role is used twice")
        if {table.channel for table in channels} != set(range(1, len(channels) + 1)):
            raise ValueError(f"{len(channels)} channels must be numbered 1 to {len(channels)}")
        return tuple(sorted(channels, key=lambda table: table.channel))

    @field_validator("invalid_samples")
    @classmethod
    def check_counts(cls, counts: tuple[int, ...], info: ValidationInfo) -> tuple[int, ...]:
        """Refuse counts that do not belong to the channels."""
        channels = info.data.get("channels")
        if counts and channels is not None and len(counts) != len(channels):
            raise ValueError(f"{len(counts)} counts do not fit {len(channels)} channels")
        return counts

    def facts(self) -> RecordingFacts:
        """Return whose recording it is."""
        started_utc = None if self.started_utc is None else self.started_utc.astimezone(UTC)
        return RecordingFacts(
            self.serial, self.model, self.revision, self.run_id, started_utc, self.station
        )

    def step_sweeps(self) -> tuple[Sweep, ...]:
        """Return the sweeps that followed the first."""
        return tuple(table.sweep() for table in self.steps or ())

    def response(self) -> MicrophoneResponse | None:
        """Return the microphone's response, None for one taken as ideal."""
        return None if self.microphone_response is None else self.microphone_response.response()

    def file_channels(self) -> tuple[Channel, ...]:
        """Return role and full scale of each channel, in the order of the file."""
        return tuple(Channel(table.role, table.full_scale) for table in self.channels)


def comment_of(recording: Recording, facts: RecordingFacts) -> str:
    """Return all facts as the JSON that goes into a recording's comment."""
    table = FactsTable.model_validate(
        {
            "format": FORMAT,
            **asdict(facts),
            "distance_m": recording.distance_m,
            "sweep": asdict(recording.sweep),
            "channels": [
                {
                    "channel": number,
                    "role": channel.role,
                    "unit": UNIT_OF_ROLE[channel.role],
                    "full_scale": channel.full_scale,
                }
                for number, channel in enumerate(recording.channels, start=1)
            ],
            "device_flags": recording.device_flags,
            "invalid_samples": recording.invalid_samples,
            "microphone_response": microphone_lists(recording.microphone_response),
            "steps": [asdict(step.sweep) for step in recording.steps] or None,
        }
    )
    # ASCII only: other tools that copy a comment do not all keep its encoding.
    return json.dumps(table.model_dump(mode="json", exclude_none=True))


def microphone_lists(response: MicrophoneResponse | None) -> dict[str, list[float]] | None:
    """Return a microphone's response as lists, which JSON keeps to the last bit."""
    if response is None:
        return None
    names = ("frequency_hz", "level_db", "phase_deg")
    return {name: getattr(response, name).tolist() for name in names}


def facts_in_comment(comment: str, path: Path) -> FactsTable | None:
    """Return the facts in a comment; None if it is somebody's remark and no facts at all.

    Raises
    ------
    RecordingFileError
        If the facts have a newer format or do not make sense.
    """
    try:
        contents = json.loads(comment)
    except (ValueError, RecursionError):
        return None
    if not isinstance(contents, dict) or "format" not in contents:
        return None
    version = contents["format"]
    if isinstance(version, int) and version > FORMAT:
        raise RecordingFileError(
            f"{path} was written by a newer version of this software (format {version}).",
            "Bring this software up to date.",
        )
    try:
        return FactsTable.model_validate(contents)
    except ValidationError as error:
        faults = [sentence(tuple(fault["loc"]), fault["msg"]) for fault in error.errors()]
        raise RecordingFileError(
            f"The facts in the comment of {path} are wrong: {'; '.join(faults)}.",
            "Record the unit again, or take the recording as it was first written.",
        ) from error
