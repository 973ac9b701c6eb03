"""Which table a row found on a page can be of, by the types of its values."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from station.records.chains.chainedrows import CHAINED_TABLES, row_hash
from station.records.damaged.pagescan import Value
from station.records.rows.values import sha256

TYPES: dict[str, tuple[type, ...]] = {
    "TEXT": (str,),
    "INTEGER": (int,),
    "REAL": (float, int),  # SQLite keeps a whole number as an integer
    "BLOB": (bytes,),
}
CHAINED_NAMES = frozenset(table.name for table in CHAINED_TABLES)


@dataclass(frozen=True, slots=True)
class Column:
    """A column as the schema declares it."""

    name: str
    declared: str
    may_be_null: bool


@dataclass(frozen=True, slots=True)
class TableShape:
    """A table; `numbered` ones have their first column's value as the number of the row."""

    name: str
    columns: tuple[Column, ...]
    numbered: bool
    in_index: bool  # kept like an index, because it was made WITHOUT ROWID

    def row_of(self, number: int | None, values: list[Value]) -> dict[str, Value] | None:
        """Return values as a row of this table, or None if they cannot be one."""
        if (number is None) != self.in_index or len(values) > len(self.columns):
            return None
        if self.numbered:
            values = [number, *values[1:]]
        row: dict[str, Value] = {}
        for column, value in zip(self.columns, values, strict=False):
            if value is None:
                if not column.may_be_null:
                    return None
            elif not isinstance(value, TYPES[column.declared]):
                return None
            elif column.declared == "REAL":
                row[column.name] = float(value)
                continue
            row[column.name] = value
        rest = self.columns[len(values) :]  # added to the table after the row was written
        return row if all(column.may_be_null for column in rest) else None

    def verified(self, row: dict[str, Value]) -> bool:
        """Return whether a row proves itself; runs and their children are verified together."""
        if self.name in CHAINED_NAMES:
            return row_hash(self.name, row) == row["hash"]
        if self.name == "texts":
            return sha256(str(row["text"]).encode()) == row["sha256"]
        if self.name == "grids":
            contents = row["frequency_hz"]
            return isinstance(contents, bytes) and sha256(contents) == row["sha256"]
        return True


def table_shapes(connection: sqlite3.Connection) -> tuple[TableShape, ...]:
    """Return the tables of a database of the newest schema."""
    found = connection.execute(
        "SELECT name, wr FROM pragma_table_list WHERE schema = 'main' AND type = 'table' "
        "AND name NOT LIKE 'sqlite%'"
    ).fetchall()
    return tuple(table_shape(connection, name, bool(in_index)) for name, in_index in found)


def table_shape(connection: sqlite3.Connection, table: str, in_index: bool) -> TableShape:  # noqa: FBT001 - a row's own columns
    """Return one table."""
    rows = connection.execute(f"PRAGMA table_info({table})").fetchall()
    numbered = not in_index and rows[0][2] == "INTEGER" and rows[0][5] == 1 and rows[1][5] == 0
    columns = tuple(
        Column(name, declared, not not_null and not (numbered and place == 0))
        for place, name, declared, not_null, *_ in rows
    )
    return TableShape(table, columns, numbered, in_index)
