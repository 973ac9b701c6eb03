"""The log of all runs and calibrations, and the folders of their recordings.

Nothing that went in ever changes.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import datetime
from functools import cache, partial
from pathlib import Path

from station.analysis.arrays import FloatArray
from station.errors import DamagedLogError, RecordsError
from station.records.chains.chain import (
    RUNS,
    ChainFault,
    ChainState,
    authority_fault,
    chain_states,
    run_hash,
)
from station.records.chains.chainedrows import (
    CALIBRATIONS,
    RELEASES,
    ROLE_ACTS,
    all_rows,
    append,
    last_link,
)
from station.records.chains.losses import stored_losses
from station.records.chains.query import (
    blob_of_grid,
    has_run,
    insert_run,
    insert_shared,
    newest_run_rows,
    newest_run_utc,
    run_rows_of_serial,
    text_of,
)
from station.records.chains.tips import Tips, tips_of
from station.records.columns.columns import Columns, RowNumbers
from station.records.columns.store import column_store
from station.records.database.connection import connected, snapshot, transaction
from station.records.files.places import (
    DATABASE_NAME,
    EVENTS_NAME,
)
from station.records.files.troubles import CHANGED, records_errors
from station.records.kept.calibration import Calibration, Place
from station.records.kept.release import Release
from station.records.kept.roleact import RoleAct
from station.records.kept.run import Run
from station.records.log.recordings import RecordingLog
from station.records.rows.calibrations import (
    calibration_of,
    calibration_row,
    calibration_texts,
    newest_accepted_row,
    newest_row,
)
from station.records.rows.releases import release_of, release_row, release_texts
from station.records.rows.roleacts import role_act_of, role_act_row
from station.records.rows.runs import RunRows, grid_of, grids_of, rows_of, run_of, texts_of
from station.records.summaries.runlist import ListedRun, Period, listed_runs, models_with_runs
from station.records.summaries.shift import ShiftCount, shift_count
from station.records.summaries.shiftsummary import ShiftSummary, shift_summary
from station.records.summaries.stationchecks import (
    CheckRun,
    SinceCheck,
    first_and_newest_pass,
    newest_check,
)


class RunLog(RecordingLog):
    """All runs ever, in one folder; one RunLog may be used from several threads."""

    def store(self, run: Run) -> None:
        """Write a run in one transaction; it is on the disk when this returns.

        Raises
        ------
        ValueError
            If the log already has a run of this id, or its time has no zone.
        RecordsError
            If it cannot be written; then nothing of it is.
        """
        try:
            self._store(run)
        except DamagedLogError:
            self._store(run)  # the damaged database was set aside: into the new one

    def _store(self, run: Run) -> None:
        """Write a run into the database as it is now."""
        with self._alone() as connection, transaction(connection):
            if has_run(connection, run.run_id):
                raise ValueError(f"the log already has a run {run.run_id}")
            last_seq, last_hash = last_link(connection, RUNS)
            rows = rows_of(run, last_seq + 1, last_hash)
            insert_shared(connection, texts_of(run.setup), grids_of(run.readings))
            insert_run(connection, rows, run_hash(rows))

    def runs_of(self, serial: str) -> tuple[Run, ...]:
        """Return all runs of one unit, oldest first, complete but for the bands as applied."""
        with self._alone() as connection, snapshot(connection):
            return tuple(runs_from(connection, run_rows_of_serial(connection, serial)))

    def newest_runs(self, model: str, revision: str) -> tuple[Run, ...]:
        """Return the newest run of each unit of a model revision, in the order of testing."""
        with self._alone() as connection, snapshot(connection):
            return tuple(runs_from(connection, newest_run_rows(connection, model, revision)))

    def shift_count(self, since_utc: datetime) -> ShiftCount:
        """Return the units tested since an instant, by their last verdict."""
        with self._alone() as connection:
            return shift_count(connection, since_utc)

    @property
    def events_folder(self) -> Path:
        """Where events are noted beside the log."""
        return self._folder / EVENTS_NAME

    def newest_run_utc(self) -> datetime | None:
        """Return when the newest run began; None for an empty log."""
        with self._alone() as connection:
            return newest_run_utc(connection)

    def newest_check(
        self, station: str, serials: Sequence[str]
    ) -> tuple[CheckRun, SinceCheck] | None:
        """Return the newest run of a station's reference units and what came since, if any."""
        with self._alone() as connection, snapshot(connection):
            return newest_check(connection, station, serials)

    def first_and_newest_pass(self, station: str, serial: str) -> tuple[Run, Run]:
        """Return the first and the newest run that a unit passed on a station; there is one."""
        with self._alone() as connection, snapshot(connection):
            first, newest = runs_from(
                connection, iter(first_and_newest_pass(connection, station, serial))
            )
            return first, newest

    def models(self) -> tuple[str, ...]:
        """Return the models that the log has runs of, by name."""
        with self._alone() as connection:
            return models_with_runs(connection)

    def list_runs(self, model: str, period: Period) -> tuple[ListedRun, ...]:
        """Return every run of a model's production in a period, oldest first, in few words each."""
        with self._alone() as connection, snapshot(connection):
            return tuple(listed_runs(connection, model, period))

    def limit_text(self, sha256: str) -> str:
        """Return the text of a limit file that judged a run, by its hash."""
        with self._alone() as connection:
            return text_of(connection, sha256)

    def columns(self, model: str) -> tuple[RowNumbers, Columns]:
        """Return the numbers in the log of all runs of a model, rising, and their readings.

        They come from a copy beside the log, which is brought up to date first, over a
        connection of its own, so that tests go on meanwhile.

        Raises
        ------
        RecordsError
            If log or copy cannot be used.
        """
        path = self._folder / DATABASE_NAME
        with (
            records_errors(self._folder),
            column_store(self._folder, model) as store,
            closing(connected(path, self._busy_timeout_s)) as connection,
            snapshot(connection),
        ):
            store.update(connection)
            return store.columns(connection)

    def shift_summary(self, from_utc: datetime, to_utc: datetime) -> ShiftSummary:
        """Return how the units of a period went, by model, and the causes of fails and voids."""
        with self._alone() as connection:
            return shift_summary(connection, from_utc, to_utc)

    def tips(self) -> Tips:
        """Return the newest entry of every chain."""
        with self._alone() as connection, snapshot(connection):
            return tips_of(connection)

    def run_count(self) -> int:
        """Return how many runs the log holds."""
        with self._alone() as connection:
            (count,) = connection.execute("SELECT count(*) FROM runs").fetchone()
            return int(count)

    def chain_fault(self) -> ChainFault | None:
        """Compute all hashes again; return what first is not as it was written, or None."""
        return next((state.fault for state in self.chain_states() if state.fault), None)

    def chain_states(self) -> tuple[ChainState, ...]:
        """Compute all hashes again; return how each chain stands, that of the runs first.

        It reads the whole log over a connection of its own, so that tests go on meanwhile.
        """
        path = self._folder / DATABASE_NAME
        with (
            records_errors(path),
            closing(connected(path, self._busy_timeout_s)) as connection,
            snapshot(connection),
        ):
            return tuple(chain_states(connection))

    def store_calibration(self, calibration: Calibration) -> None:
        """Write a calibration in one transaction; it is on the disk when this returns.

        Raises
        ------
        ValueError
            If the log already has a calibration of this id, or its time has no zone.
        RecordsError
            If it cannot be written; then nothing of it is.
        """
        with self._alone() as connection, transaction(connection):
            insert_shared(connection, calibration_texts(calibration), {})
            append(connection, CALIBRATIONS, calibration_row(calibration))

    def calibrations(self) -> tuple[Calibration, ...]:
        """Return every calibration, oldest first."""
        with self._alone() as connection, snapshot(connection):
            text = partial(text_of, connection)
            return tuple(calibration_of(row, text) for row in all_rows(connection, CALIBRATIONS))

    def newest_calibration(self, place: Place, *, accepted: bool = False) -> Calibration | None:
        """Return the newest calibration of an input, or the newest accepted one; None if none."""
        with self._alone() as connection, snapshot(connection):
            newest = newest_accepted_row if accepted else newest_row
            row = newest(connection, place)
            return None if row is None else calibration_of(row, partial(text_of, connection))

    def store_release(self, release: Release) -> None:
        """Write a release in one transaction; it is on the disk when this returns.

        Raises
        ------
        ValueError
            If the log already has a release of this id, or one of its times has no zone.
        RecordsError
            If it cannot be written; then nothing of it is.
        """
        with self._alone() as connection, transaction(connection):
            insert_shared(connection, release_texts(release), {})
            append(connection, RELEASES, release_row(release))

    def releases(self) -> tuple[Release, ...]:
        """Return every release, in the order the log learnt of them."""
        with self._alone() as connection, snapshot(connection):
            text = partial(text_of, connection)
            return tuple(release_of(row, text) for row in all_rows(connection, RELEASES))

    def store_role_act(self, act: RoleAct) -> None:
        """Write a role act in one transaction; it is on the disk when this returns.

        Raises
        ------
        ValueError
            If the log already has an act of this id, or its time has no zone.
        RecordsError
            If it cannot be written; then nothing of it is.
        """
        with self._alone() as connection, transaction(connection):
            append(connection, ROLE_ACTS, role_act_row(act))

    def role_acts(self) -> tuple[RoleAct, ...]:
        """Return every role act, oldest first."""
        with self._alone() as connection, snapshot(connection):
            return tuple(map(role_act_of, all_rows(connection, ROLE_ACTS)))

    def authority_fault(self) -> ChainFault | None:
        """Return the first role act or release that is not as it was written, or None."""
        with self._alone() as connection, snapshot(connection):
            return authority_fault(connection)

    def authority_losses(self) -> frozenset[str]:
        """Return which role acts and releases a damaged database was read without."""
        tables = (ROLE_ACTS.name, RELEASES.name)
        with self._alone() as connection, snapshot(connection):
            return frozenset(
                str(loss) for loss in stored_losses(connection) if loss.lost_from in tables
            )


def runs_from(connection: sqlite3.Connection, found: Iterator[RunRows]) -> Iterator[Run]:
    """Yield runs from their rows, each text and frequency grid fetched once."""

    @cache
    def text(key: str) -> str:
        return text_of(connection, key)

    @cache
    def grid_hz(key: str) -> FloatArray:
        return grid_of(blob_of_grid(connection, key))

    return (run_of(proved(rows), text, grid_hz) for rows in found)


def proved(rows: RunRows) -> RunRows:
    """Return the rows of a run that is what was written; raise RecordsError for another."""
    if run_hash(rows) != rows.run["hash"]:
        raise RecordsError(f"Number {rows.run['seq']} of {RUNS} is not what was written.", CHANGED)
    return rows
