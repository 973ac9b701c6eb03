"""The part of the log that service writes and reads: stays of units, their steps, old records."""

from __future__ import annotations

import sqlite3
from functools import partial

from station.records.chains.chainedrows import IMPORTED_RECORDS, SERVICE_STEPS, SERVICES, append
from station.records.chains.query import insert_shared, text_of
from station.records.kept.service import (
    ConfirmedCause,
    ImportedRecord,
    Service,
    Step,
    StoredService,
)
from station.records.log.log import RunLog
from station.records.rows.services import (
    imported_of,
    imported_row,
    service_of,
    service_row,
    step_of,
    step_row,
)
from station.records.rows.values import Row, sha256

# The newest run before the repair stands for what the station had measured when the cause was
# looked for.
CONFIRMED = """SELECT services.serial, services.model, cause.part, cause.words, (
    SELECT before.run_id FROM service_steps AS before
    WHERE before.service_id = cause.service_id AND before.kind = 'before'
    AND before.seq < cause.seq ORDER BY before.seq DESC LIMIT 1
) AS before_run_id
FROM service_steps AS cause JOIN services USING (service_id)
WHERE cause.kind = 'cause' ORDER BY cause.seq"""


class ServiceLog:
    """Services and imported records in the log of all runs; as safe to share as that log."""

    def __init__(self, log: RunLog) -> None:
        self._log = log

    def open_service(self, service: Service) -> None:
        """Write a service; it is on the disk when this returns.

        Raises
        ------
        ValueError
            If the log already has a service of this id, or its time has no zone.
        RecordsError
            If it cannot be written; then nothing of it is.
        """
        with self._log.writing() as connection:
            text = service.limit_text
            insert_shared(connection, {sha256(text.encode()): text}, {})
            append(connection, SERVICES, service_row(service))

    def add_step(self, step: Step) -> None:
        """Write a step of a service; it is on the disk when this returns.

        Raises
        ------
        ValueError
            If the log already has a step of this id, or its time has no zone.
        RecordsError
            If it cannot be written, or the service is closed; then nothing of it is.
        """
        with self._log.writing() as connection:
            append(connection, SERVICE_STEPS, step_row(step))

    def import_record(self, record: ImportedRecord) -> None:
        """Write an imported record; it is on the disk when this returns.

        Raises
        ------
        ValueError
            If the log already has a record of this id, or its time has no zone.
        RecordsError
            If it cannot be written; then nothing of it is.
        """
        with self._log.writing() as connection:
            text = record.contents
            insert_shared(connection, {sha256(text.encode()): text}, {})
            append(connection, IMPORTED_RECORDS, imported_row(record))

    def services_of(self, serial: str) -> tuple[StoredService, ...]:
        """Return all services of one unit with their steps, oldest first."""
        with self._log.reading() as connection:
            found = connection.execute(
                "SELECT * FROM services WHERE serial = ? ORDER BY seq", (serial,)
            )
            return tuple(with_steps(connection, dict(row)) for row in found.fetchall())

    def imported_records_of(self, serial: str) -> tuple[ImportedRecord, ...]:
        """Return all imported records of one unit, oldest first."""
        with self._log.reading() as connection:
            text = partial(text_of, connection)
            found = connection.execute(
                "SELECT * FROM imported_records WHERE serial = ? ORDER BY seq", (serial,)
            )
            return tuple(imported_of(dict(row), text) for row in found.fetchall())

    def confirmed_causes(self) -> tuple[ConfirmedCause, ...]:
        """Return every cause that a repair confirmed, oldest first."""
        with self._log.reading() as connection:
            return tuple(ConfirmedCause(**dict(row)) for row in connection.execute(CONFIRMED))


def with_steps(connection: sqlite3.Connection, row: Row) -> StoredService:
    """Return a service with its steps."""
    found = connection.execute(
        "SELECT * FROM service_steps WHERE service_id = ? ORDER BY seq", (row["service_id"],)
    )
    service = service_of(row, partial(text_of, connection))
    return StoredService(service, tuple(step_of(dict(step)) for step in found))
