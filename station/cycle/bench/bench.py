"""Everything one station is made of, real or simulated, as the cycle takes it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from station.analysis.plan import Plan, needed_roles
from station.analysis.recording import Channel, Recording
from station.analysis.signals.microphoneresponse import MicrophoneResponse
from station.analysis.signals.sweep import Sweep
from station.errors import RefusedInputError
from station.hardware.files.stationfile import StationFile
from station.hardware.protocols.audio import AudioDevice, Capture
from station.hardware.protocols.clock import Clock
from station.hardware.protocols.fixture import Fixture
from station.hardware.protocols.thermometer import NotedTemperature, Thermometer
from station.hardware.protocols.turntable import Turntable
from station.records.kept.calibration import Calibration
from station.records.recordings.recording_file import quantised


@dataclass(frozen=True, slots=True)
class Bench:
    """The station file with the devices it describes.

    `calibrations` has every input that can be calibrated, by role, with the one in use, None
    where there is none; the full scales of `station` are then those of the calibrations (see
    `calibrationstate`). It is empty until they were looked up.
    """

    station: StationFile
    station_text: str
    audio: AudioDevice
    fixture: Fixture
    clock: Clock
    simulated: bool
    versions: Mapping[str, str]
    thermometer: Thermometer = field(default_factory=NotedTemperature)
    microphone_response: MicrophoneResponse | None = None
    turntable: Turntable | None = None
    calibrations: Mapping[str, Calibration | None] = field(default_factory=dict)

    def calibration_uncertainty_db(self, role: str) -> float | None:
        """Return the standard uncertainty that an input's calibration adds to levels read by it.

        None if the input was not calibrated: then nothing is known.
        """
        calibration = self.calibrations.get(role)
        return None if calibration is None else calibration.standard_uncertainty_db


def check_bench_fits(
    station: StationFile, sweep: Sweep, plan: Plan, steps: tuple[Sweep, ...] = ()
) -> None:
    """Refuse a limit file that this station cannot carry out.

    Raises
    ------
    RefusedInputError
        If the sampling rate differs, an input is missing, or the drive exceeds the amplifier.
    """
    if station.audio.rate_hz != sweep.rate_hz:
        raise RefusedInputError(
            f"The limit file needs {sweep.rate_hz:g} Hz sampling, the station file says "
            f"{station.audio.rate_hz:g} Hz.",
            "Set rate_hz of the station file, or use the limit file made for this station.",
        )
    roles = {str(channel.role) for channel in station.inputs}
    missing = [role for role in needed_roles(plan) if role not in roles]
    if missing:
        raise RefusedInputError(
            f"The limit file needs the {' and '.join(missing)} input, which the station file "
            "does not have.",
            "Add it to the inputs of the station file.",
        )
    peak_v = float(np.sqrt(2.0)) * max(part.level_v for part in (sweep, *steps))
    if peak_v > station.audio.output_full_scale_v:
        raise RefusedInputError(
            f"The sweep needs {peak_v:.2f} V peak, the station can give "
            f"{station.audio.output_full_scale_v:.2f} V.",
            "Use a station with a stronger amplifier, or correct output_full_scale_v.",
        )


def channels_of(station: StationFile) -> tuple[Channel, ...]:
    """Return role and full scale of each input, in the order of the station file."""
    return tuple(Channel(channel.role, channel.full_scale) for channel in station.inputs)


def recording_of(
    capture: Capture,
    station: StationFile,
    sweep: Sweep,
    microphone_response: MicrophoneResponse | None = None,
) -> Recording:
    """Return a capture as the recording that is judged and stored: 24 bit, by channel role."""
    return Recording.from_raw(
        quantised(capture.samples),
        channels_of(station),
        sweep,
        station.microphone_distance_m,
        capture.flags,
        microphone_response,
    )
