"""What the workers of the operator's screen post to it."""

from __future__ import annotations

from dataclasses import dataclass

from textual.message import Message

from station.cycle.unit.report import Progress, UnitReport
from station.diagnosis.named.suspect import Diagnosis
from station.errors import StationError
from station.records.summaries.shift import ShiftCount
from station.screens.line.outcome import Outcome


@dataclass
class ModelKnown(Message):
    """The serial number belongs to this model and revision."""

    serial: str
    model: str
    revision: str


@dataclass
class Progressed(Message):
    """The running test came this far."""

    progress: Progress


@dataclass
class Finished(Message):
    """The test is over, and its runs are stored."""

    outcome: Outcome
    report: UnitReport | None = None  # None if the test did not come to an end


@dataclass
class Suspected(Message):
    """Who is suspected of the fault of the unit tested last, told after its verdict."""

    report: UnitReport
    diagnosis: Diagnosis | None


@dataclass
class Scanned(Message):
    """A scanner on a port of its own read a label."""

    label: str


@dataclass
class SignedIn(Message):
    """Somebody has signed in or out, or was refused."""

    outcome: Outcome


@dataclass
class AllOff(Message):
    """Everything is off, or why that is not known."""

    error: StationError | None


@dataclass
class Counted(Message):
    """The counters of the shift, or None if the log could not be read."""

    shift: ShiftCount | None
