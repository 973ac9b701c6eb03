"""Services, their steps and imported records as rows of the log, and back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from station.records.kept.service import ImportedRecord, LimitsFrom, Service, Step, StepKind
from station.records.rows.values import Row, sha256, utc_text


def service_row(service: Service) -> Row:
    """Return the row of a service, complete but for its place in the chain."""
    return {
        "service_id": service.service_id,
        "opened_utc": utc_text(service.opened_utc),
        "opened_by": service.opened_by,
        "simulated": int(service.simulated),
        "station_name": service.station_name,
        "serial": service.serial,
        "model": service.model,
        "revision": service.revision,
        "complaint": service.complaint,
        "limits_from": service.limits_from.value,
        "limit_name": service.limit_name,
        "limit_sha256": sha256(service.limit_text.encode()),
        "as_built": service.as_built,
    }


def service_of(row: Row, text: Callable[[str], str]) -> Service:
    """Return the service that a row tells of; `text` finds texts by their SHA-256."""
    return Service(
        service_id=row["service_id"],
        opened_utc=datetime.fromisoformat(row["opened_utc"]),
        opened_by=row["opened_by"],
        simulated=bool(row["simulated"]),
        station_name=row["station_name"],
        serial=row["serial"],
        model=row["model"],
        revision=row["revision"],
        complaint=row["complaint"],
        limits_from=LimitsFrom(row["limits_from"]),
        limit_name=row["limit_name"],
        limit_text=text(row["limit_sha256"]),
        as_built=row["as_built"],
    )


def step_row(step: Step) -> Row:
    """Return the row of a step, complete but for its place in the chain."""
    return {
        "step_id": step.step_id,
        "service_id": step.service_id,
        "made_utc": utc_text(step.made_utc),
        "made_by": step.made_by,
        "kind": step.kind.value,
        "run_id": step.run_id,
        "part": step.part,
        "batch": step.batch,
        "partner": step.partner,
        "words": step.words,
    }


def step_of(row: Row) -> Step:
    """Return the step that a row tells of."""
    return Step(
        step_id=row["step_id"],
        service_id=row["service_id"],
        made_utc=datetime.fromisoformat(row["made_utc"]),
        made_by=row["made_by"],
        kind=StepKind(row["kind"]),
        run_id=row["run_id"],
        part=row["part"],
        batch=row["batch"],
        partner=row["partner"],
        words=row["words"],
    )


def imported_row(record: ImportedRecord) -> Row:
    """Return the row of an imported record, complete but for its place in the chain."""
    return {
        "record_id": record.record_id,
        "imported_utc": utc_text(record.imported_utc),
        "imported_by": record.imported_by,
        "simulated": int(record.simulated),
        "serial": record.serial,
        "model": record.model,
        "revision": record.revision,
        "measured_on": record.measured_on,
        "origin": record.origin,
        "file_name": record.file_name,
        "contents_sha256": sha256(record.contents.encode()),
    }


def imported_of(row: Row, text: Callable[[str], str]) -> ImportedRecord:
    """Return the imported record that a row tells of; `text` finds texts by their SHA-256."""
    return ImportedRecord(
        record_id=row["record_id"],
        imported_utc=datetime.fromisoformat(row["imported_utc"]),
        imported_by=row["imported_by"],
        simulated=bool(row["simulated"]),
        serial=row["serial"],
        model=row["model"],
        revision=row["revision"],
        measured_on=row["measured_on"],
        origin=row["origin"],
        file_name=row["file_name"],
        contents=text(row["contents_sha256"]),
    )
