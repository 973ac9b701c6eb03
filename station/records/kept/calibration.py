"""One calibration of one input as it is kept for ever, and how a run names the one it used."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from station.analysis.recording import UNIT_OF_ROLE, Role
from station.analysis.statistics.uncertainty import level_uncertainty_db
from station.records.kept.run import RecordingRef, UsedCalibration


class Means(StrEnum):
    """With what an input is calibrated."""

    CALIBRATOR = "calibrator"  # a sound calibrator; its nominal value is a level in dB
    RESISTOR = "resistor"  # a known resistor; its nominal value is in Ω


NOMINAL_UNIT = {Means.CALIBRATOR: "dB", Means.RESISTOR: "Ω"}


@dataclass(frozen=True, slots=True)
class Place:
    """Which input of which station, as its file described it.

    A calibration holds for its place alone: another device, another input or another full scale
    in the station file is another channel, whose calibrations begin anew.
    """

    station_name: str
    device: str
    input: int
    role: Role
    filed_full_scale: float  # what the station file says, in the role's unit


@dataclass(frozen=True, slots=True)
class Calibration:
    """What full scale of one input was found to mean, and whether that was accepted.

    `full_scale` and its standard uncertainty are in the role's unit, `full_scale_before` is what
    runs were read by until then. `drift_db` is positive where the input has become less sensitive
    since its last accepted calibration, None where there is none. `happened` and `remedy` are
    sentences for the operator.
    """

    calibration_id: str
    calibrated_utc: datetime
    calibrated_by: str
    place: Place
    means: Means
    nominal: float
    full_scale_before: float
    full_scale: float
    standard_uncertainty: float
    drift_db: float | None
    drift_limit_db: float
    temperature_c: float
    accepted: bool
    happened: str
    remedy: str
    simulated: bool
    station_text: str
    versions: Mapping[str, str]
    recording: RecordingRef

    @property
    def unit(self) -> str:
        """Unit of the full scales."""
        return UNIT_OF_ROLE[self.place.role]

    @property
    def standard_uncertainty_db(self) -> float:
        """Standard uncertainty of every level read by this calibration."""
        return level_uncertainty_db(self.standard_uncertainty / self.full_scale)


def used(calibration: Calibration) -> UsedCalibration:
    """Return what a run keeps of a calibration."""
    return UsedCalibration(
        calibration.calibration_id,
        calibration.calibrated_utc,
        calibration.full_scale,
        calibration.standard_uncertainty_db,
    )
