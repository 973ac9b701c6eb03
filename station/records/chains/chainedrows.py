"""Tables of which each row is a link of a chain: how their rows are written and found."""

from __future__ import annotations

import hashlib
import sqlite3
import struct
from collections.abc import Iterator
from dataclasses import dataclass

from station.records.database.schema import FIRST_PREVIOUS_HASH
from station.records.rows.values import Row


@dataclass(frozen=True, slots=True)
class ChainedTable:
    """A table without child rows whose rows follow each other; all names are our own."""

    name: str
    key: str  # the column of a row's id
    one: str  # what people call a row
    texts: tuple[str, ...]  # columns that hold the SHA-256 of a text


CALIBRATIONS = ChainedTable(
    "calibrations", "calibration_id", "calibration", ("station_sha256", "versions_sha256")
)
UPKEEP = ChainedTable("upkeep", "entry_id", "upkeep entry", ())
SERVICES = ChainedTable("services", "service_id", "service", ("limit_sha256",))
SERVICE_STEPS = ChainedTable("service_steps", "step_id", "service step", ())
IMPORTED_RECORDS = ChainedTable(
    "imported_records", "record_id", "imported record", ("contents_sha256",)
)
RELEASES = ChainedTable("releases", "release_id", "release", ("limit_sha256", "release_sha256"))
ROLE_ACTS = ChainedTable("role_acts", "act_id", "role act", ())
GAUGE_STUDIES = ChainedTable("gauge_studies", "study_id", "gauge study", ())
GAUGE_ENTRIES = ChainedTable("gauge_entries", "entry_id", "gauge entry", ())
LOSSES = ChainedTable("losses", "loss_id", "loss", ())
CHAINED_TABLES = (
    CALIBRATIONS,
    UPKEEP,
    LOSSES,
    SERVICES,
    SERVICE_STEPS,
    IMPORTED_RECORDS,
    RELEASES,
    ROLE_ACTS,
    GAUGE_STUDIES,
    GAUGE_ENTRIES,
)


def last_link(connection: sqlite3.Connection, table: str) -> tuple[int, str]:
    """Return number and hash of a table's newest row, 0 and zeros if there is none."""
    row = connection.execute(f"SELECT seq, hash FROM {table} ORDER BY seq DESC LIMIT 1").fetchone()  # noqa: S608 - our table names
    return (0, FIRST_PREVIOUS_HASH) if row is None else (row["seq"], row["hash"])


def append(connection: sqlite3.Connection, table: ChainedTable, columns: Row) -> None:
    """Write a row behind the last one; raise ValueError if its id is there already."""
    key = columns[table.key]
    found = connection.execute(f"SELECT 1 FROM {table.name} WHERE {table.key} = ?", (key,))  # noqa: S608 - our table names
    if found.fetchone() is not None:
        raise ValueError(f"the log has a {table.one} {key}")
    last_seq, last_hash = last_link(connection, table.name)
    row = {**columns, "seq": last_seq + 1, "previous_hash": last_hash}
    row["hash"] = row_hash(table.name, row)
    names = ", ".join(row)
    values = ", ".join(f":{name}" for name in row)
    connection.execute(f"INSERT INTO {table.name} ({names}) VALUES ({values})", row)  # noqa: S608 - our column names


def all_rows(connection: sqlite3.Connection, table: ChainedTable) -> Iterator[Row]:
    """Yield every row, oldest first."""
    found = connection.execute(f"SELECT * FROM {table.name} ORDER BY seq")  # noqa: S608 - our table names
    return (dict(row) for row in found)


def row_hash(table: str, row: Row) -> str:
    """Return the hash of a row that has no child rows."""
    return hashlib.sha256(canonical(table, row)).hexdigest()


def canonical(table: str, row: Row) -> bytes:
    """Return one row in the canonical serialisation, which `chain` describes."""
    parts = [item(table)]
    for name in sorted(row.keys()):
        if name != "hash" and row[name] is not None:
            parts += [item(name), item(row[name])]
    return b"".join(parts)


def item(value: str | int | float | bytes) -> bytes:
    """Return one value with its type and length."""
    match value:
        case str():
            letter, contents = b"T", value.encode()
        case int():
            letter, contents = b"I", b"%d" % value
        case float():
            letter, contents = b"R", struct.pack(">d", value)
        case bytes():
            letter, contents = b"B", value
    return letter + b"%d:" % len(contents) + contents
