"""The station file: which device, which input is which, what full scale means."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from station.tomlfiles.loading import StrictModel, model_from_toml, text_of_file

Positive = Annotated[float, Field(gt=0.0)]
Count = Annotated[int, Field(ge=1)]


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


class StationFile(StrictModel):
    """All that is particular to one station."""

    format: Literal[1]
    name: Annotated[str, Field(min_length=1)]
    microphone_distance_m: Positive
    audio: AudioSettings
    inputs: Annotated[tuple[InputChannel, ...], Field(min_length=2)]

    @model_validator(mode="after")
    def check_inputs(self) -> StationFile:
        """Refuse a role or an input used twice, and a station without its two main channels."""
        for what, values in (
            ("role", [str(channel.role) for channel in self.inputs]),
            ("input", [str(channel.input) for channel in self.inputs]),
        ):
            doubled = sorted({value for value in values if values.count(value) > 1})
            if doubled:
                raise ValueError(f"{what} {', '.join(doubled)} is used twice in inputs")
        missing = {"microphone", "voltage"} - {channel.role for channel in self.inputs}
        if missing:
            raise ValueError(f"inputs lack the role {' and '.join(sorted(missing))}")
        return self


def station_file(path: Path) -> tuple[StationFile, str]:
    """Return a station file's checked contents and its text; raise TextFileError."""
    text = text_of_file(path)
    return model_from_toml(text, str(path), StationFile), text
