"""A new database out of a damaged one: every entry that proves itself by its hash, and no other.

Rows are taken from single pages (see `pagescan`), so that nothing that is whole is lost because
something that led to it is not. They keep their numbers and hashes; what is missing between them,
and what the tips say was there, is written down as lost.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from station.records.chains.chain import RUN, chain_names, run_hash
from station.records.chains.chainedrows import CHAINED_TABLES, last_link
from station.records.chains.losses import Loss, append_losses, known_losses
from station.records.chains.query import all_run_rows
from station.records.chains.tips import Tips
from station.records.chains.upkeep import UpkeepEntry, UpkeepKind, append_upkeep
from station.records.damaged.pagescan import Pages, Value, pages_of, rows_in
from station.records.damaged.tableshapes import table_shapes
from station.records.damaged.variants import whole_runs
from station.records.database.schema import APPLICATION_ID, CHILD_TABLES, MIGRATIONS

SETTINGS = (
    "PRAGMA journal_mode = OFF",  # the new file has no name yet: a kill leaves nothing of it
    "PRAGMA synchronous = OFF",
)
MOST_TRIED_RUNS = 20_000  # whose rows are all kept in memory
NAMED_LOSSES = 20  # in the entry's sentence; the table of losses has them all


@dataclass(frozen=True, slots=True)
class Damaged:
    """A database that was set aside: its files, the tips noted beside it, and what was found."""

    name: str
    database: Path
    logs: tuple[Path, ...]  # write-ahead logs
    tips: Tips | None
    happened: str
    sha256: str | None


def salvaged(damaged: Damaged, target: Path, now_utc: datetime) -> tuple[Loss, ...]:
    """Write a new database with all that proves itself; return what is lost.

    The file is complete, with all rules of the schema, but not yet safe on the disk.
    """
    connection = sqlite3.connect(target, isolation_level=None)
    connection.row_factory = sqlite3.Row
    try:
        for setting in SETTINGS:
            connection.execute(setting)
        connection.execute("BEGIN")
        for statement in statements(rules=False):
            connection.execute(statement)
        with pages_of(damaged.database, damaged.logs) as pages:
            carry_over(connection, pages)
            drop_unproved_runs(connection)
            add_runs_that_fit(connection, pages, damaged.tips)
        losses = tuple(new_losses(connection, damaged.tips))
        tell(connection, damaged, losses, now_utc)
        for statement in statements(rules=True):
            connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
        connection.execute("COMMIT")
    finally:
        connection.close()
    return losses


def statements(*, rules: bool) -> Iterator[str]:
    """Yield what makes the tables, or the indexes and triggers that come after the rows."""
    for version in MIGRATIONS:
        for statement in version:
            if statement.startswith(("CREATE TABLE", "ALTER TABLE")) != rules:
                yield statement


def carry_over(connection: sqlite3.Connection, pages: Pages) -> None:
    """Insert every row that proves itself; of two with one number, the first that was found."""
    shapes = table_shapes(connection)
    for number, values in rows_in(pages):
        for shape in shapes:
            row = shape.row_of(number, values)
            if row is not None and shape.verified(row):
                insert(connection, shape.name, row)
                break


def insert(connection: sqlite3.Connection, table: str, row: Mapping[str, Value]) -> None:
    """Insert a row unless there is one of its number."""
    names = ", ".join(row)
    places = ", ".join("?" * len(row))
    connection.execute(
        f"INSERT OR IGNORE INTO {table} ({names}) VALUES ({places})",  # noqa: S608 - names of our schema
        tuple(row.values()),
    )


def drop_unproved_runs(connection: sqlite3.Connection) -> None:
    """Delete the runs whose hash does not hold, and child rows without a run."""
    unproved = [
        (rows.run["seq"],)
        for rows in all_run_rows(connection)
        if run_hash(rows) != rows.run["hash"]
    ]
    connection.executemany("DELETE FROM runs WHERE seq = ?", unproved)
    for table in CHILD_TABLES:
        connection.execute(f"DELETE FROM {table} WHERE run NOT IN (SELECT seq FROM runs)")  # noqa: S608 - our table names


def add_runs_that_fit(connection: sqlite3.Connection, pages: Pages, tips: Tips | None) -> None:
    """Insert the runs that are missing and of which other images of their rows fit together."""
    stored = {seq for (seq,) in connection.execute("SELECT seq FROM runs")}
    noted_seq, _ = tips.links.get(RUN.name, (0, "")) if tips else (0, "")
    newest = max((noted_seq, *stored), default=0)
    missing = frozenset(range(1, newest + 1)) - stored
    tried = frozenset(sorted(missing)[-MOST_TRIED_RUNS:])
    if not tried:
        return
    for rows in whole_runs(pages, table_shapes(connection), tried):
        insert(connection, RUN.name, rows.run)
        for table in CHILD_TABLES:
            for row in getattr(rows, table):
                insert(connection, table, row)


def new_losses(connection: sqlite3.Connection, tips: Tips | None) -> Iterator[Loss]:
    """Yield what is missing and was not known to be."""
    known = known_losses(connection)
    for table in chain_names():
        for loss in gaps(connection, table, tips):
            if loss not in known.gaps:
                yield loss
    for lost_from, key in missing_contents(connection):
        if key not in known.contents:
            yield Loss(lost_from, None, None, key)


def gaps(connection: sqlite3.Connection, table: str, tips: Tips | None) -> Iterator[Loss]:
    """Yield the gaps in a chain, and what is missing at its end."""
    expected_seq = 1
    for row in connection.execute(f"SELECT seq, previous_hash FROM {table} ORDER BY seq"):  # noqa: S608 - our table names
        if row["seq"] > expected_seq:
            yield Loss(table, expected_seq, row["seq"] - 1, row["previous_hash"])
        expected_seq = row["seq"] + 1
    noted_seq, noted_hash = (tips.links if tips else {}).get(table, (0, ""))
    if noted_seq >= expected_seq:
        yield Loss(table, expected_seq, noted_seq, noted_hash)


def missing_contents(connection: sqlite3.Connection) -> Iterator[tuple[str, str]]:
    """Yield the texts and grids that entries name and that are not there."""
    run_texts = [
        (RUN.name, row["name"])
        for row in connection.execute("SELECT name FROM pragma_table_info('runs')")
        if row["name"].endswith("_sha256") and row["name"] != "recording_sha256"
    ]
    others = [(table.name, column) for table in CHAINED_TABLES for column in table.texts]
    seen = set()
    for table, column in (*run_texts, *others):
        for (key,) in connection.execute(
            f"SELECT DISTINCT {column} FROM {table} "  # noqa: S608 - names of our schema
            f"WHERE {column} NOT IN (SELECT sha256 FROM texts)"
        ):
            seen.add(("texts", str(key)))
    for (key,) in connection.execute(
        "SELECT DISTINCT grid_sha256 FROM curves "
        "WHERE grid_sha256 NOT IN (SELECT sha256 FROM grids)"
    ):
        seen.add(("grids", str(key)))
    return iter(sorted(seen))


def tell(
    connection: sqlite3.Connection, damaged: Damaged, losses: tuple[Loss, ...], now_utc: datetime
) -> None:
    """Write down in the new database where it comes from and what is lost."""
    named = ", ".join(map(str, losses[:NAMED_LOSSES]))
    more = f" and {len(losses) - NAMED_LOSSES} more" if len(losses) > NAMED_LOSSES else ""
    lost = f"Lost: {named}{more}." if losses else "Nothing is lost."
    append_upkeep(
        connection,
        UpkeepEntry(
            now_utc,
            UpkeepKind.SET_ASIDE,
            damaged.name,
            damaged.sha256,
            f"{damaged.happened} {lost}",
        ),
    )
    last_seq, _ = last_link(connection, "upkeep")
    append_losses(connection, f"upkeep-{last_seq}", losses)
