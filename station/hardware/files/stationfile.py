"""The station file: which device, which input is which, what full scale means."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from station.hardware.files.calibrationtables import CalibrationTable
from station.hardware.files.checktables import CheckTable
from station.hardware.files.disktables import DiskTable
from station.hardware.files.serialtables import (
    FixtureTable,
    PortTable,
    SafetyTable,
    TurntableTable,
    VoltmeterTable,
)
from station.tomlfiles.loading import StrictModel, model_from_toml, text_of_file

Positive = Annotated[float, Field(gt=0.0)]
Count = Annotated[int, Field(ge=1)]
RoomC = Annotated[float, Field(ge=-20.0, le=60.0)]  # beyond these nobody works
HIGHEST_TONE_RATIO = 0.25  # of the sampling rate, in calibration
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


class RolesTable(StrictModel):
    """With this table people sign in, and some acts need a PIN.

    `badge` is the regular expression that a whole badge matches, and no serial number does.
    """

    badge: Annotated[str, Field(min_length=1)]

    @field_validator("badge")
    @classmethod
    def check_pattern(cls, pattern: str) -> str:
        """Refuse a pattern that is no regular expression."""
        try:
            re.compile(pattern)
        except re.error as error:
            raise ValueError(f"not a regular expression: {error}") from error
        return pattern


class StationFile(StrictModel):
    """All that is particular to one station."""

    format: Literal[1]
    name: Annotated[str, Field(min_length=1)]
    microphone_distance_m: Positive
    audio: AudioSettings
    inputs: tuple[InputChannel, ...]
    temperature_c: RoomC | None = None  # of a room that is kept at it; else say --temperature
    calibration: CalibrationTable | None = None
    check: CheckTable | None = None
    disk: DiskTable | None = None
    fixture: FixtureTable | None = None
    bias_voltmeter: VoltmeterTable | None = None
    turntable: TurntableTable | None = None
    scanner: PortTable | None = None  # one that types like a keyboard needs no table
    safety: SafetyTable | None = None
    roles: RolesTable | None = None

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

    @field_validator("calibration")
    @classmethod
    def check_calibration(
        cls, calibration: CalibrationTable | None, info: ValidationInfo
    ) -> CalibrationTable | None:
        """Refuse to calibrate what is not there, or with a tone that the station cannot play."""
        inputs, audio = info.data.get("inputs"), info.data.get("audio")
        if calibration is None or inputs is None or audio is None:
            return calibration
        roles = {str(channel.role) for channel in inputs}
        faults = [
            f"{role} is no input of this station"
            for role in calibration.channels()
            if role not in roles
        ]
        highest_hz = HIGHEST_TONE_RATIO * audio.rate_hz
        calibrator, resistor = calibration.calibrator, calibration.resistor
        if calibrator is not None and calibrator.frequency_hz > highest_hz:
            faults.append(f"the calibrator's frequency_hz must be {highest_hz:g} or less")
        if resistor is not None and resistor.to_hz > highest_hz:
            faults.append(f"the resistor's to_hz must be {highest_hz:g} or less")
        if resistor is not None:
            peak_v = math.sqrt(2.0) * resistor.level_v
            if peak_v > audio.output_full_scale_v:
                faults.append(f"the resistor's sweep needs {peak_v:.2f} V peak, beyond the output")
        if faults:
            raise ValueError("; ".join(faults))
        return calibration

    @field_validator("bias_voltmeter")
    @classmethod
    def check_bias(
        cls, table: VoltmeterTable | None, info: ValidationInfo
    ) -> VoltmeterTable | None:
        """Refuse to measure a bias that nothing switches."""
        fixture = info.data.get("fixture")
        if table is not None and "fixture" in info.data:
            switched = fixture is not None and any(held.bias for held in fixture.models)
            if not switched:
                raise ValueError("no model of [fixture] has bias = true")
        return table

    @field_validator("bias_voltmeter", "turntable", "scanner")
    @classmethod
    def check_ports(cls, table: PortTable | None, info: ValidationInfo) -> PortTable | None:
        """Refuse two devices on one port."""
        if table is None:
            return table
        for name in ("fixture", "bias_voltmeter", "turntable"):
            other = info.data.get(name)
            if name != info.field_name and other is not None and other.port == table.port:
                raise ValueError(f"{table.port} is the port of the {name} already")
        return table


def station_file(path: Path) -> tuple[StationFile, str]:
    """Return a station file's checked contents and its text; raise TextFileError."""
    text = text_of_file(path)
    return model_from_toml(text, str(path), StationFile), text
