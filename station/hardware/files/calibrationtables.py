"""The calibration part of a station file: with what, how often, and how far a channel may drift.

Every value comes from a certificate or is a choice of the station's keeper, so none has a default.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from station.tomlfiles.loading import StrictModel

Positive = Annotated[float, Field(gt=0.0)]
NotNegative = Annotated[float, Field(ge=0.0)]
# Shorter, a tone's own scatter says little; longer, nobody keeps a calibrator still.
DurationS = Annotated[float, Field(ge=1.0, le=60.0)]

FEWEST_OCTAVES_RATIO = 8.0  # three octaves


class CalibratorTable(StrictModel):
    """The sound calibrator, from its certificate and its class (IEC 60942)."""

    frequency_hz: Positive
    frequency_tolerance_ratio: Positive
    level_uncertainty_db: NotNegative  # standard uncertainty of its level, with this microphone
    largest_distortion_ratio: Positive
    largest_fluctuation_db: Positive  # half of highest minus lowest level
    duration_s: DurationS


class ResistorTable(StrictModel):
    """The known resistor that stands in for a unit, and the sweep played into it.

    A sweep and not a tone: over some octaves no unit left connected looks like a resistor.
    """

    uncertainty_ratio: NotNegative  # standard uncertainty of the resistor, leads included
    voltage_uncertainty_ratio: NotNegative  # of the voltage input's own full scale
    level_v: Positive  # RMS
    from_hz: Annotated[float, Field(ge=10.0)]  # a second then holds some periods
    to_hz: Positive
    duration_s: DurationS

    @model_validator(mode="after")
    def check_octaves(self) -> ResistorTable:
        """Refuse a sweep that is too narrow to tell a resistor from a unit."""
        if self.to_hz < FEWEST_OCTAVES_RATIO * self.from_hz:
            raise ValueError(f"to_hz must be {FEWEST_OCTAVES_RATIO:g} times from_hz or more")
        return self


class ChannelTable(StrictModel):
    """How often one input is calibrated; without `due_days` it is never due."""

    drift_limit_db: Positive  # against the last accepted calibration; beyond it, refused
    due_days: Positive | None = None


class MicrophoneTable(ChannelTable):
    """The measuring microphone; `correction` names a file beside the station file."""

    correction: Annotated[str, Field(min_length=1)] | None = None


class CalibrationTable(StrictModel):
    """All of it; an input without a table cannot be calibrated, and none needs one."""

    calibrator: CalibratorTable | None = None
    resistor: ResistorTable | None = None
    microphone: MicrophoneTable | None = None
    ambient: ChannelTable | None = None
    rear: ChannelTable | None = None
    current: ChannelTable | None = None

    @model_validator(mode="after")
    def check_means(self) -> CalibrationTable:
        """Refuse an input that is to be calibrated with nothing."""
        if self.calibrator is None and any((self.microphone, self.ambient, self.rear)):
            raise ValueError("a microphone is calibrated by a calibrator: its table is missing")
        if self.resistor is None and self.current is not None:
            raise ValueError("the current is calibrated by a resistor: its table is missing")
        return self

    def channels(self) -> dict[str, ChannelTable]:
        """Return the table of each input that has one, by role."""
        tables = {
            "microphone": self.microphone,
            "ambient": self.ambient,
            "rear": self.rear,
            "current": self.current,
        }
        return {role: table for role, table in tables.items() if table is not None}
