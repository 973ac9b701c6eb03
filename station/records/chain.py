"""The chains of hashes: each run's hash covers the hash of the run before it.

Canonical serialisation, so that any program can compute it again. A run's hash is the SHA-256,
as lower-case hex, of these items one after the other: for the row of `runs`, then each row of
`causes`, `curves` and `missing` by `position`, an item T with the table's name, then for each
column, sorted by name, an item T with the column's name and an item with its value. Columns that
are NULL are left out, so that a column added later changes no old hash; so is the column `hash`.
An item is a letter, the length of what follows in bytes as decimal digits, a colon, and

    T  text, UTF-8
    I  integer, decimal digits
    R  real, IEEE 754 double, big-endian
    B  blob, as it is

Texts and frequency grids are covered through their SHA-256, and the recording through its own.
The first run's `previous_hash` is 64 zeros. Calibrations are a second chain, made the same way
of the rows of `calibrations`; a run covers those it used through the text of
`calibrations_sha256`, which names them. What no chain inside the database can show is that
its newest runs were cut off: compare the last hash with a copy kept elsewhere.
"""

from __future__ import annotations

import hashlib
import sqlite3
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain

from station.records.calibrationrows import all_calibration_rows
from station.records.query import all_grids, all_run_rows, all_texts
from station.records.rows import Row, RunRows
from station.records.schema import FIRST_PREVIOUS_HASH
from station.records.storedvalues import sha256

RUN_TEXTS = ("limit_sha256", "station_sha256", "versions_sha256", "calibrations_sha256")
CALIBRATION_TEXTS = ("station_sha256", "versions_sha256")


@dataclass(frozen=True, slots=True)
class ChainFault:
    """The first run or calibration at which the log is not what it was when it was written."""

    seq: int
    entry_id: str
    happened: str  # one sentence
    kind: str = "run"

    def __str__(self) -> str:
        return f"{self.kind} number {self.seq} ({self.entry_id}): {self.happened}"


def run_hash(rows: RunRows) -> str:
    """Return the hash of a run with its causes, curves and missing readings."""
    digest = hashlib.sha256()
    for table, members in (
        ("runs", (rows.run,)),
        ("causes", rows.causes),
        ("curves", rows.curves),
        ("missing", rows.missing),
    ):
        for row in members:
            digest.update(canonical(table, row))
    return digest.hexdigest()


def calibration_hash(row: Row) -> str:
    """Return the hash of a calibration."""
    return hashlib.sha256(canonical("calibrations", row)).hexdigest()


def canonical(table: str, row: Row) -> bytes:
    """Return one row in the canonical serialisation."""
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


def first_fault(connection: sqlite3.Connection) -> ChainFault | None:
    """Compute every hash again; return where the log first is not as written, or None."""
    whole = whole_contents(connection)
    return first_fault_of_runs(connection, whole) or first_fault_of_calibrations(connection, whole)


def first_fault_of_runs(connection: sqlite3.Connection, whole: frozenset[str]) -> ChainFault | None:
    """Return the first run that is not as written."""
    previous_hash = FIRST_PREVIOUS_HASH
    for seq, rows in enumerate(all_run_rows(connection), start=1):
        happened = next(run_faults(rows, seq, previous_hash, whole), None)
        if happened is not None:
            return ChainFault(rows.run["seq"], rows.run["run_id"], happened)
        previous_hash = rows.run["hash"]
    return None


def first_fault_of_calibrations(
    connection: sqlite3.Connection, whole: frozenset[str]
) -> ChainFault | None:
    """Return the first calibration that is not as written."""
    previous_hash = FIRST_PREVIOUS_HASH
    for seq, row in enumerate(all_calibration_rows(connection), start=1):
        happened = next(calibration_faults(row, seq, previous_hash, whole), None)
        if happened is not None:
            return ChainFault(row["seq"], row["calibration_id"], happened, "calibration")
        previous_hash = row["hash"]
    return None


def whole_contents(connection: sqlite3.Connection) -> frozenset[str]:
    """Return the SHA-256 of every text and grid that still has it."""
    texts = ((key, text.encode()) for key, text in all_texts(connection))
    return frozenset(
        key for key, contents in chain(texts, all_grids(connection)) if sha256(contents) == key
    )


def run_faults(rows: RunRows, seq: int, previous_hash: str, whole: frozenset[str]) -> Iterator[str]:
    """Yield what is wrong with one run."""
    yield from link_faults(rows.run, "run", seq, previous_hash, run_hash(rows))
    yield from text_faults(rows.run, RUN_TEXTS, whole)
    for curve in rows.curves:
        if curve["grid_sha256"] not in whole:
            yield f"The frequencies of its curve {curve['name']} were changed or are gone."


def calibration_faults(
    row: Row, seq: int, previous_hash: str, whole: frozenset[str]
) -> Iterator[str]:
    """Yield what is wrong with one calibration."""
    yield from link_faults(row, "calibration", seq, previous_hash, calibration_hash(row))
    yield from text_faults(row, CALIBRATION_TEXTS, whole)


def link_faults(row: Row, kind: str, seq: int, previous_hash: str, new_hash: str) -> Iterator[str]:
    """Yield what is wrong with one link of a chain."""
    if row["seq"] != seq:
        yield f"{kind.capitalize()} number {seq} is gone."
    if row["previous_hash"] != previous_hash:
        yield f"It does not follow the {kind} before it."
    if row["hash"] != new_hash:
        yield f"The {kind} was changed after it was written."


def text_faults(row: Row, columns: tuple[str, ...], whole: frozenset[str]) -> Iterator[str]:
    """Yield which texts behind a row are not what they were; one it never had is not missed."""
    for column in columns:
        if row[column] is not None and row[column] not in whole:
            yield f"The text behind its {column} was changed or is gone."
