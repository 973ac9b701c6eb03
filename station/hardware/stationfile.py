"""The station file: which device, which input is which, what full scale means."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from station.tomlfiles.loading import StrictModel, model_from_toml, text_of_file

Positive = Annotated[float, Field(gt=0.0)]
Count = Annotated[int, Field(ge=1)]
SILENT_BLOCKS = 4  # a device that buffers may be quiet for a few blocks without being lost


class InputChannel(StrictModel):
    """One input of the audio device, counted from 1, and what 1.0 means in Pa, V or A peak."""

    input: Count
    role: Literal["microphone", "voltage", "current", "ambient", "rear"]
    full_scale: Positive


class AudioSettings(StrictModel):
    """The audio device and how it is opened."""

    device: Annotated[str, Field(min_length=1)]
    host_api: str | None = None
    rate_hz: Positive
    block_frames: Annotated[int, Field(ge=16, le=65536)]
    output: Count
    output_full_scale_v: Positive  # peak voltage at the unit's terminals for sample value 1.0
    silence_limit_s: Positive  # no block for this long: the device is lost

    @model_validator(mode="after")
    def check_silence(self) -> AudioSettings:
        """Refuse a limit that a device with such blocks cannot keep."""
        shortest_s = SILENT_BLOCKS * self.block_frames / self.rate_hz
        if self.silence_limit_s < shortest_s:
            raise ValueError(
                f"silence_limit_s must be {SILENT_BLOCKS} blocks or more, here {shortest_s:.3g} s"
            )
        return self


class StationFile(StrictModel):
    """All that is particular to one station."""

    format: Literal[1]
    name: Annotated[str, Field(min_length=1)]
    microphone_distance_m: Positive
    audio: AudioSettings
    inputs: tuple[InputChannel, ...]

    @field_validator("inputs")
    @classmethod
    def check_inputs(cls, inputs: tuple[InputChannel, ...]) -> tuple[InputChannel, ...]:
        """Refuse a role or an input used twice, and a station without its two main channels."""
        faults = []
        for what, values in (
            ("role", [str(channel.role) for channel in inputs]),
            ("input", [str(channel.input) for channel in inputs]),
        ):
            doubled = sorted({value for value in values if values.count(value) > 1})
            if doubled:
                faults.append(f"{what} {', '.join(doubled)} is used twice")
        missing = {"microphone", "voltage"} - {channel.role for channel in inputs}
        if missing:
            faults.append(f"the role {' and '.join(sorted(missing))} is missing")
        if faults:
            raise ValueError("; ".join(faults))
        return inputs


def station_file(path: Path) -> tuple[StationFile, str]:
    """Return a station file's checked contents and its text; raise TextFileError."""
    text = text_of_file(path)
    return model_from_toml(text, str(path), StationFile), text
