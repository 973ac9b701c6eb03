"""The database under the log: who may use it, that it is the one that was written, what was noted.

A damaged database does not stop the line: it is set aside and a new one begun with all of it that
proves itself, at the start or whenever the damage is met.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from station.errors import DamagedLogError
from station.records.chains.losses import Loss
from station.records.chains.tips import read_tips, tips_of, write_tips
from station.records.damaged.damage import damage_of, hidden_damage_of
from station.records.damaged.renewal import cut_off, forget_wal, keep_wal, renew, set_aside
from station.records.database.connection import connected, migrate, snapshot, transaction
from station.records.files.durable import make_folder, sync_folder
from station.records.files.holding import Hold
from station.records.files.places import BUSY_TIMEOUT_S, DATABASE_NAME, RECORDINGS_NAME, TIPS_NAME
from station.records.files.troubles import DAMAGED, records_errors

LOOK_S = 2.0  # a thorough look at the start takes no longer on the largest log


def system_utc() -> datetime:
    """Return the present instant."""
    return datetime.now(UTC)


class LogBase:
    """One database in one folder, for several threads.

    Parameters
    ----------
    folder : Path
        The logs folder.
    busy_timeout_s : float
        How long to wait for another process that is writing.
    thorough : bool
        Whether to look at the newest entries and the structure, too, before the log is used.
    utc_now : callable
        The clock.
    """

    def __init__(
        self,
        folder: Path,
        *,
        busy_timeout_s: float,
        thorough: bool,
        utc_now: Callable[[], datetime],
    ) -> None:
        self._folder = folder
        self._busy_timeout_s = busy_timeout_s
        self._utc_now = utc_now
        self._lock = threading.Lock()
        self._sound = True  # False where a mending was cut off, by a full disk for instance
        self.mended: tuple[str, ...] = ()
        with records_errors(folder):
            make_folder(folder / RECORDINGS_NAME)
            self._hold = Hold(folder)
        try:
            self._connection = self._sound_connection()
            if thorough:
                self._look_closely()
        except BaseException:
            self._hold.release()
            raise

    @classmethod
    def open(
        cls,
        folder: Path,
        *,
        busy_timeout_s: float = BUSY_TIMEOUT_S,
        thorough: bool = False,
        utc_now: Callable[[], datetime] = system_utc,
    ) -> Self:
        """Open the log in a folder, and create folder and log where they are not there yet.

        A damaged one is mended first; `mended` then says what was found and lost.

        Raises
        ------
        DamagedLogError
            If it is damaged and somebody else uses it.
        RecordsError
            If the folder or the database cannot be used, or is of a newer version.
        """
        return cls(
            folder,
            busy_timeout_s=busy_timeout_s,
            thorough=thorough,
            utc_now=utc_now,
        )

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Hold the log for what another module of this package appends, in one transaction."""
        with self._alone() as connection, transaction(connection):
            yield connection

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """Hold one state of the log for what another module of this package reads."""
        with self._alone() as connection, snapshot(connection):
            yield connection

    def set_aside(self, happened: str) -> None:
        """Set the database aside for what somebody found, and go on with a new one.

        Raises
        ------
        DamagedLogError
            If somebody else uses it.
        """
        with self._lock:
            if not self._mend(happened):
                raise DamagedLogError(happened, DAMAGED)

    def close(self) -> None:
        """Close the database; the log cannot be used afterwards."""
        with self._lock:
            try:
                with records_errors(self._folder / DATABASE_NAME):
                    self._connection.close()
            finally:
                self._hold.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    @contextmanager
    def _alone(self) -> Iterator[sqlite3.Connection]:
        """Keep other threads off the connection, and note what was written.

        A damage that is met on the way is mended before it is told: what was asked for can be
        asked again.
        """
        path = self._folder / DATABASE_NAME
        with self._lock:
            try:
                if not self._sound:
                    self._connection = self._sound_connection()
                    self._sound = True
                with records_errors(path):
                    changes = self._connection.total_changes
                    yield self._connection
                    if self._connection.total_changes != changes:
                        self._note_tips()
            except DamagedLogError as error:
                self._mend(error.happened)
                raise

    def _note_tips(self) -> None:
        """Note the newest entries beside the database; where that fails the note lags behind."""
        with suppress(OSError):
            write_tips(self._folder / TIPS_NAME, tips_of(self._connection))

    def _connect(self) -> sqlite3.Connection:
        """Return a connection to the database, which is created or brought up to date first."""
        path = self._folder / DATABASE_NAME
        with records_errors(path):
            connection = connected(path, self._busy_timeout_s)
            try:
                migrate(connection, path)
                sync_folder(self._folder)
                tips = tips_of(connection)
                noted = read_tips(self._folder / TIPS_NAME)
                if noted is None or noted.schema != tips.schema:
                    with suppress(OSError):
                        write_tips(self._folder / TIPS_NAME, tips)
            except BaseException:
                connection.close()
                raise
        return connection

    def _sound_connection(self) -> sqlite3.Connection:
        """Return a connection to the database, which is mended first if it is not what was written.

        It is looked at superficially, which takes milliseconds.
        """
        with records_errors(self._folder):
            alone = self._hold.alone()
            try:
                if alone:
                    keep_wal(self._folder)
                happened = damage_of(self._folder)
                if happened is None and cut_off(self._folder) is not None:
                    happened = "A new log was not begun when the last one was set aside."
                if happened is not None:
                    self._begin_anew(happened, alone=alone)
                connection = self._connect_or_begin_anew(alone=alone)
                if alone:
                    forget_wal(self._folder)
                return connection
            finally:
                if alone:
                    self._hold.shared()

    def _connect_or_begin_anew(self, *, alone: bool) -> sqlite3.Connection:
        """Return a connection, mending what only connecting has shown."""
        try:
            return self._connect()
        except DamagedLogError as error:
            self._begin_anew(error.happened, alone=alone)
            return self._connect()

    def _look_closely(self) -> None:
        """Look at the newest entries and, as far as the time goes, the structure; mend it."""
        happened = hidden_damage_of(self._folder, budget_s=LOOK_S)
        if happened is not None:
            with self._lock:
                self._mend(happened)

    def _mend(self, happened: str) -> bool:
        """Set the database aside in the midst of work; return False if somebody else uses it."""
        if not self._hold.alone():
            return False
        try:
            with records_errors(self._folder):
                aside = set_aside(self._folder, happened)
                self._sound = False
                try:
                    self._tell(renew(self._folder, aside, self._utc_now()), happened)
                finally:
                    self._connection.close()  # it writes pages back, so not before they are read
        finally:
            self._hold.shared()
        self._connection = self._connect()
        self._sound = True
        return True

    def _begin_anew(self, happened: str, *, alone: bool) -> None:
        """Set the database aside, or take up where that was cut off, and begin a new one."""
        if not alone:
            raise DamagedLogError(happened, DAMAGED)
        aside = cut_off(self._folder) or set_aside(self._folder, happened)
        self._tell(renew(self._folder, aside, self._utc_now()), happened)

    def _tell(self, losses: tuple[Loss, ...], happened: str) -> None:
        """Keep in words what was mended."""
        lost = f"Lost: {', '.join(map(str, losses))}." if losses else "Nothing is lost."
        self.mended = (*self.mended, f"{happened} It was set aside and a new log begun. {lost}")
