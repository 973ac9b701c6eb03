"""All that is known of one unit: what it was built to, how it left the factory, what was done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from station.analysis.readings import Readings
from station.errors import RefusedInputError
from station.judging.verdicts.verdict import Verdict
from station.records.kept.run import Run
from station.records.kept.service import ImportedRecord, StepKind, StoredService
from station.records.log.log import RunLog
from station.records.log.services import ServiceLog
from station.service.builtlimits import BuiltLimits, LimitSources
from station.service.oldrecord import readings_of_old_record


@dataclass(frozen=True, slots=True, eq=False)
class AsBuilt:
    """How a unit left the factory: by a run of the log, or by a record from before the log."""

    entry_id: str
    readings: Readings
    run: Run | None
    record: ImportedRecord | None

    @property
    def when(self) -> str:
        """The day, as well as it is known."""
        if self.run is not None:
            return f"{self.run.started_utc:%Y-%m-%d}"
        return "" if self.record is None else self.record.measured_on


@dataclass(frozen=True, slots=True, eq=False)
class Dossier:
    """One unit with everything the log knows of it.

    `limits` are those of the revision it was built to; `serviced_to` is the service revision it
    has passed by since, empty if none. `in_log` says whether its production was logged.
    """

    serial: str
    model: str
    limits: BuiltLimits
    serviced_to: str
    as_built: AsBuilt | None
    in_log: bool
    runs: tuple[Run, ...]
    services: tuple[StoredService, ...]
    records: tuple[ImportedRecord, ...]

    @property
    def revision(self) -> str:
        """The revision it was built to."""
        return self.limits.revision

    @property
    def built_on(self) -> str:
        """The day it was built, as well as it is known; empty if it is not."""
        return "" if self.as_built is None else self.as_built.when

    @property
    def open_service(self) -> StoredService | None:
        """The service that is under way."""
        return next((one for one in self.services if one.is_open), None)

    def run(self, run_id: str | None) -> Run:
        """Return a run of this unit by its id."""
        return next(run for run in self.runs if run.run_id == run_id)

    def newest_run(self, *verdicts: Verdict) -> Run | None:
        """Return the newest run with one of some verdicts."""
        found = [run for run in self.runs if run.judgement.verdict in verdicts]
        return found[-1] if found else None


def dossier_of(
    log: RunLog, sources: LimitSources, serial: str, revision: str | None = None
) -> Dossier:
    """Return what is known of a unit; `revision` is what its plate says, if the log does not know.

    Raises
    ------
    RefusedInputError
        If nothing is known of it, or not which limits it was built to.
    """
    runs = log.runs_of(serial)
    services = ServiceLog(log).services_of(serial)
    records = ServiceLog(log).imported_records_of(serial)
    produced = runs_of_production(runs, services)
    as_built = as_built_of(produced, records)
    released = tuple(run for run in produced if not run.trial)
    if released:
        deciding = released[-1] if as_built is None or as_built.run is None else as_built.run
        limits = sources.for_run(deciding)
        refuse_other_revision(serial, limits.revision, revision)
    else:
        told = (*(one.service.revision for one in services), *(one.revision for one in records))
        known = revision or next(iter(told), None)
        limits = sources.for_unlogged(serial, known)
    return Dossier(
        serial,
        limits.shelved.limits.model.name,
        limits,
        serviced_to(runs, services, limits.revision),
        as_built,
        bool(produced),
        runs,
        services,
        records,
    )


def refuse_other_revision(serial: str, built: str, named: str | None) -> None:
    """Refuse a revision that the log knows to be another one."""
    if named is not None and named != built:
        raise RefusedInputError(
            f"{serial} was built to revision {built}, not {named}.", "Leave --revision out."
        )


def runs_of_production(
    runs: tuple[Run, ...], services: tuple[StoredService, ...]
) -> tuple[Run, ...]:
    """Return the runs from before the unit was first opened in service."""
    if not services:
        return runs
    first: datetime = services[0].service.opened_utc
    in_service = {step.run_id for one in services for step in one.steps}
    return tuple(run for run in runs if run.started_utc < first and run.run_id not in in_service)


def as_built_of(produced: tuple[Run, ...], records: tuple[ImportedRecord, ...]) -> AsBuilt | None:
    """Return the run by which a unit left the factory, else its newest imported record."""
    passed = [r for r in produced if r.judgement.verdict is Verdict.PASS and not r.trial]
    if passed:
        return AsBuilt(passed[-1].run_id, passed[-1].readings, passed[-1], None)
    if records:
        record = records[-1]
        readings = readings_of_old_record(record.contents, record.file_name)
        return AsBuilt(record.record_id, readings, None, record)
    return None


def serviced_to(runs: tuple[Run, ...], services: tuple[StoredService, ...], built: str) -> str:
    """Return the service revision that a unit passed by after its last repair, empty if none."""
    repaired = {
        step.run_id for one in services if not one.is_open for step in one.of_kind(StepKind.AFTER)
    }
    passed = [
        run for run in runs if run.run_id in repaired and run.judgement.verdict is Verdict.PASS
    ]
    return passed[-1].revision if passed and passed[-1].revision != built else ""
