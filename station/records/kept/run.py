"""One run as it is kept for ever."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import Enum

from station.analysis.readings import Readings
from station.judging.verdicts.verdict import Judgement


@dataclass(frozen=True, slots=True)
class UsedCalibration:
    """What a run keeps of the calibration that one of its inputs was read by.

    `full_scale` is in the unit of the input's role; `standard_uncertainty_db` is that of every
    level read by it.
    """

    calibration_id: str
    calibrated_utc: datetime
    full_scale: float
    standard_uncertainty_db: float


@dataclass(frozen=True, slots=True)
class Setup:
    """Everything but the unit that decided a run: stored whole, once per different text.

    `calibrations` has every input that can be calibrated, by role, with None where it was not:
    it was read by the station file's full scale then. It is empty for runs that were stored
    before calibrations were. `pattern_text` is the population that the limits name, None where
    they name none, and for runs that were stored before it was.
    """

    limit_name: str
    limit_text: str
    station_name: str
    station_text: str  # the station file, with channels and scale factors
    versions: Mapping[str, str]  # of this software, Python and the libraries that compute
    calibrations: Mapping[str, UsedCalibration | None] = field(default_factory=dict)
    pattern_text: str | None = None


@dataclass(frozen=True, slots=True)
class RecordingRef:
    """A stored recording: its file name inside the recordings folder, and its SHA-256 as hex."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Operator:
    """Who had signed in, and with which badge."""

    name: str
    badge: str


class SetApart(Enum):
    """What a run was made for that is no production."""

    GAUGE = "gauge"
    SERVICE = "service"
    CHECK = "check"  # a reference unit, which says whether the station still reads as it did


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """One pass of one unit through one test, complete; `attempt` counts from 1.

    A `trial` was judged by limits that need not be released: it is never a result of production.
    `operator` is None where nobody had to sign in. `set_apart` is None in production, and for runs
    that were stored before it was.
    """

    run_id: str
    serial: str
    model: str
    revision: str
    attempt: int
    simulated: bool
    started_utc: datetime
    monotonic_s: float
    readings: Readings
    judgement: Judgement
    setup: Setup
    recording: RecordingRef | None  # None when the void left nothing to keep
    temperature_c: float | None = None  # None where nobody and nothing told it
    trial: bool = False
    operator: Operator | None = None
    set_apart: SetApart | None = None
