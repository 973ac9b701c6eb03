"""One run as it is kept for ever."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from station.analysis.readings import Readings
from station.judging.verdict import Judgement


@dataclass(frozen=True, slots=True)
class Setup:
    """Everything but the unit that decided a run: stored whole, once per different text."""

    limit_name: str
    limit_text: str
    station_name: str
    station_text: str  # the station file, with channels and scale factors (the calibration)
    versions: Mapping[str, str]  # of this software, Python and the libraries that compute


@dataclass(frozen=True, slots=True)
class RecordingRef:
    """A stored recording: its file name inside the recordings folder, and its SHA-256 as hex."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """One pass of one unit through one test, complete; `attempt` counts from 1."""

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
