"""Is the database of a logs folder the one that was written: asked at every start, in bounded time.

What takes long on a large log is given up when its time is over: 'station verify-log' reads it
all. What is wrong in the part that was not read is found when that part is read.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import closing
from functools import cache
from pathlib import Path

from station.errors import RecordsError
from station.records.chains.chain import RUNS, run_faults, whole_contents
from station.records.chains.chainedrows import CHAINED_TABLES, row_hash
from station.records.chains.losses import known_losses
from station.records.chains.query import newest_rows_of_runs
from station.records.chains.tips import Tips, lost_since, read_tips
from station.records.database.connection import read_only
from station.records.database.schema import APPLICATION_ID, MIGRATIONS
from station.records.files.places import DATABASE_NAME, TIPS_NAME
from station.records.files.troubles import is_damage, records_errors

CHANGED = "It was changed after it was written."
TOO_MANY = 20  # entries that all fail to prove themselves
NEWEST_ENTRIES = 100  # of each chain, whose hashes are computed again


def damage_of(folder: Path) -> str | None:
    """Return what shows that the database is not what was written, as a sentence, or None.

    Only what takes milliseconds is looked at: schema, and the tips that were noted.

    Raises
    ------
    RecordsError
        If it cannot be opened for a reason other than damage.
    """
    tips = read_tips(folder / TIPS_NAME)
    return first_damage(folder, tips, lambda connection: superficial(connection, tips))


def hidden_damage_of(folder: Path, *, budget_s: float) -> str | None:
    """Return what the newest entries and, as far as the time goes, the structure show, or None."""

    def look(connection: sqlite3.Connection) -> Iterator[str]:
        yield from changed_entries(connection)
        yield from structure_faults(connection, budget_s)

    return first_damage(folder, None, look)


def first_damage(
    folder: Path,
    tips: Tips | None,
    look: Callable[[sqlite3.Connection], Iterator[str]],
) -> str | None:
    """Return the first damage that a look at the database yields or stumbles over."""
    path = folder / DATABASE_NAME
    if not path.exists():
        gone = tips is not None and any(seq for seq, _ in tips.links.values())
        return f"{path} is gone." if gone else None
    if not path.is_file():
        return None  # told when it is opened
    with records_errors(path):
        try:
            with closing(read_only(path)) as connection:
                return next(look(connection), None)
        except sqlite3.Error as error:
            if is_damage(error):
                return f"{path} is damaged ({error})."
            raise


def superficial(connection: sqlite3.Connection, tips: Tips | None) -> Iterator[str]:
    """Yield what is wrong with the schema, and what was noted but is not there."""
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    if tips is None or tips.schema > len(MIGRATIONS):
        return  # a new log, another program's database, or one of a newer version: told elsewhere
    (application_id,) = connection.execute("PRAGMA application_id").fetchone()
    if application_id != APPLICATION_ID or not tips.schema <= version <= len(MIGRATIONS):
        yield "The head of the database was changed."
        return
    found = frozenset(connection.execute("SELECT name, sql FROM sqlite_schema WHERE sql NOT NULL"))
    if {tuple(row) for row in found} != schema_of(version):
        yield "The rules of the database were changed."
        return
    yield from lost_since(tips, connection)


@cache
def schema_of(version: int) -> frozenset[tuple[str, str]]:
    """Return name and statement of everything in a database of a schema version."""
    with closing(sqlite3.connect(":memory:")) as fresh:
        for statements in MIGRATIONS[:version]:
            for statement in statements:
                fresh.execute(statement)
        return frozenset(
            fresh.execute("SELECT name, sql FROM sqlite_schema WHERE sql NOT NULL").fetchall()
        )


def changed_entries(connection: sqlite3.Connection) -> Iterator[str]:
    """Yield what is wrong with the newest entries of each chain."""
    whole = whole_contents(connection) | known_losses(connection).contents
    runs = [
        (rows.run["seq"], next(run_faults(rows, whole), None))
        for rows in newest_rows_of_runs(connection, NEWEST_ENTRIES)
    ]
    yield from told_unless_all(RUNS, runs)
    for table in CHAINED_TABLES:
        rows = connection.execute(
            f"SELECT * FROM {table.name} ORDER BY seq DESC LIMIT ?",  # noqa: S608 - our table names
            (NEWEST_ENTRIES,),
        ).fetchall()
        yield from told_unless_all(
            table.name,
            [
                (row["seq"], None if row_hash(table.name, row) == row["hash"] else CHANGED)
                for row in rows
            ],
        )


def told_unless_all(table: str, entries: list[tuple[int, str | None]]) -> Iterator[str]:
    """Yield the entries that do not hold; raise RecordsError where that many do not at all.

    No damage of a disk spares the structure and changes every entry: the program that computes
    the hashes is another one, and must not set a whole log aside.
    """
    bad = [(seq, happened) for seq, happened in entries if happened is not None]
    if len(bad) == len(entries) >= TOO_MANY:
        raise RecordsError(
            f"None of the newest {len(entries)} entries of {table} proves itself.",
            "Go back to the version of this software that wrote them, and have this looked into.",
        )
    yield from (f"Number {seq} of {table}: {happened}" for seq, happened in bad)


def structure_faults(connection: sqlite3.Connection, budget_s: float) -> Iterator[str]:
    """Yield what the database says of its own structure, as far as the time goes.

    It looks at no clock while it checks, so somebody else has to interrupt it.
    """
    timer = threading.Timer(budget_s, connection.interrupt)
    timer.start()
    try:
        (structure,) = connection.execute("PRAGMA quick_check(1)").fetchone()
    except sqlite3.OperationalError as error:
        if getattr(error, "sqlite_errorcode", None) != sqlite3.SQLITE_INTERRUPT:
            raise
        return
    finally:
        timer.cancel()
        timer.join()
    if structure != "ok":
        yield f"The database says of itself: {structure}."
