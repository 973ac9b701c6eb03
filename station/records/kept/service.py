"""One service of one unit as it is kept for ever: its opening, and every step as it is made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class LimitsFrom(StrEnum):
    """Where the limits come from by which a unit is judged in service."""

    RUN = "run"  # stored with the run the unit left the factory by
    ARCHIVE = "archive"  # a file kept for units older than the log
    SHELF = "shelf"  # the limit file of today's production, of the same revision
    SERVICE = "service"  # a revision of its own, for a part made otherwise than it was


class StepKind(StrEnum):
    """What was done in one step of a service."""

    BEFORE = "before"  # tested before the repair
    AFTER = "after"  # tested after it
    PART = "part"  # a part was replaced
    CAUSE = "cause"  # the part at fault was confirmed
    PARTNER = "partner"  # the other unit of the pair was checked
    CLOSED = "closed"


@dataclass(frozen=True, slots=True)
class Service:
    """A unit's stay in service, as it was opened.

    `model` and `revision` are what the unit was built to; the limit text may be of a service
    revision. `as_built` is the id of the run or imported record the unit is compared with, empty
    where there is none.
    """

    service_id: str
    opened_utc: datetime
    opened_by: str
    simulated: bool
    station_name: str
    serial: str
    model: str
    revision: str
    complaint: str
    limits_from: LimitsFrom
    limit_name: str
    limit_text: str
    as_built: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a service. What a kind does not need is empty, and None for the run.

    `part` is the designator of a part, such as C2 or woofer; `words` the reason, the cause or the
    remark, in the technician's own words.
    """

    step_id: str
    service_id: str
    made_utc: datetime
    made_by: str
    kind: StepKind
    run_id: str | None = None
    part: str = ""
    batch: str = ""
    partner: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class StoredService:
    """A service with its steps, oldest first."""

    service: Service
    steps: tuple[Step, ...]

    @property
    def is_open(self) -> bool:
        """Whether more steps may follow."""
        return all(step.kind is not StepKind.CLOSED for step in self.steps)

    def of_kind(self, *kinds: StepKind) -> tuple[Step, ...]:
        """Return the steps of some kinds, oldest first."""
        return tuple(step for step in self.steps if step.kind in kinds)


@dataclass(frozen=True, slots=True)
class ConfirmedCause:
    """A part that a repair confirmed to be at fault, and the failing run that came before it."""

    serial: str
    model: str
    part: str
    words: str
    before_run_id: str | None  # None where the unit was not tested before the repair


@dataclass(frozen=True, slots=True)
class ImportedRecord:
    """Measurements of a unit from before the log, with where they come from.

    `contents` is the whole text of the file, which `importedcurves` reads; `measured_on` is a
    date as it was written down, perhaps a year alone.
    """

    record_id: str
    imported_utc: datetime
    imported_by: str
    simulated: bool
    serial: str
    model: str
    revision: str
    measured_on: str
    origin: str
    file_name: str
    contents: str
