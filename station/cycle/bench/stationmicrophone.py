"""The response of the station's microphone, from the correction file its station file names."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from station.analysis.signals.microphoneresponse import MicrophoneResponse, microphone_gain
from station.hardware.files.microphonefile import MicrophoneCorrection, microphone_correction
from station.hardware.files.stationfile import StationFile


def correction_of(station: StationFile, folder: Path) -> MicrophoneCorrection | None:
    """Return what the correction file says, None if the station file names none.

    `folder` is where the station file lies. Raise TextFileError if the file has faults.
    """
    calibration = station.calibration
    if calibration is None or calibration.microphone is None:
        return None
    name = calibration.microphone.correction
    return None if name is None else microphone_correction(folder / name)


def microphone_response_of(
    station: StationFile, correction: MicrophoneCorrection | None
) -> MicrophoneResponse | None:
    """Return the microphone's response relative to the frequency at which it is calibrated.

    What it does there is in the calibrated full scale already and must not be taken out twice.
    """
    if correction is None or station.calibration is None or station.calibration.calibrator is None:
        return None
    stated = MicrophoneResponse(
        np.array(correction.frequency_hz),
        np.array(correction.level_db),
        np.array(correction.phase_deg),
    )
    calibrated_hz = np.array([station.calibration.calibrator.frequency_hz])
    there = abs(complex(microphone_gain(stated, calibrated_hz)[0]))
    return MicrophoneResponse(
        stated.frequency_hz, stated.level_db - 20.0 * math.log10(there), stated.phase_deg
    )
