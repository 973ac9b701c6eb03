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
The first run's `previous_hash` is 64 zeros. Each table of `chainedrows.CHAINED_TABLES` is a
chain of its own, made the same way of its rows; a run covers the calibrations it used through the
text of `calibrations_sha256`, which names them. What no chain inside the database can show is that
its newest entries were cut off: the file of tips (see `tips`) and a tip printed on paper can.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import chain

from station.records.chains.chainedrows import (
    CHAINED_TABLES,
    RELEASES,
    ROLE_ACTS,
    ChainedTable,
    all_rows,
    canonical,
    last_link,
    row_hash,
)
from station.records.chains.losses import KnownLosses, known_losses
from station.records.chains.query import all_grids, all_run_rows, all_texts
from station.records.database.schema import FIRST_PREVIOUS_HASH
from station.records.rows.runs import RunRows
from station.records.rows.values import Row, sha256

RUN = ChainedTable("runs", "run_id", "run", ())  # but for its child rows
RUNS = RUN.name
RUN_TEXTS = (
    "limit_sha256", "station_sha256", "versions_sha256", "calibrations_sha256", "pattern_sha256",
)  # fmt: skip

# Number, hash of the entry before, id, hash, and what is wrong with the entry itself.
Link = tuple[int, str, str, str, Iterator[str]]


@dataclass(frozen=True, slots=True)
class ChainFault:
    """The first entry of a chain at which the log is not what it was when it was written."""

    seq: int
    entry_id: str
    happened: str  # one sentence
    kind: str = "run"

    def __str__(self) -> str:
        return f"{self.kind} number {self.seq} ({self.entry_id}): {self.happened}"


@dataclass(frozen=True, slots=True)
class ChainState:
    """One chain as it was found: its newest entry, and its first fault if it has one."""

    table: str
    count: int
    tip: str  # hash of the newest entry, zeros where there is none
    fault: ChainFault | None


def chain_names() -> tuple[str, ...]:
    """Return the tables that are chains, that of the runs first."""
    return (RUNS, *(table.name for table in CHAINED_TABLES))


def run_hash(rows: RunRows) -> str:
    """Return the hash of a run with its causes, curves and missing readings."""
    digest = hashlib.sha256()
    for table, members in (
        (RUNS, (rows.run,)),
        ("causes", rows.causes),
        ("curves", rows.curves),
        ("missing", rows.missing),
    ):
        for row in members:
            digest.update(canonical(table, row))
    return digest.hexdigest()


def first_fault(connection: sqlite3.Connection) -> ChainFault | None:
    """Compute every hash again; return where the log first is not as written, or None."""
    return next((state.fault for state in chain_states(connection) if state.fault), None)


def chain_states(connection: sqlite3.Connection) -> Iterator[ChainState]:
    """Compute every hash again; yield how each chain stands, that of the runs first."""
    known = known_losses(connection)
    whole = whole_contents(connection) | known.contents
    yield state_of(connection, RUNS, first_fault_in(run_links(connection, whole), RUN, known))
    for table in CHAINED_TABLES:
        links = row_links(connection, table, whole)
        yield state_of(connection, table.name, first_fault_in(links, table, known))


def authority_fault(connection: sqlite3.Connection) -> ChainFault | None:
    """Return the first role act or release that is not as written; no text is looked at.

    Only these decide what may be tested and by whom, and they are few: it can be asked before
    every unit.
    """
    known = known_losses(connection)
    for table in (ROLE_ACTS, replace(RELEASES, texts=())):
        fault = first_fault_in(row_links(connection, table, frozenset()), table, known)
        if fault is not None:
            return fault
    return None


def state_of(connection: sqlite3.Connection, table: str, fault: ChainFault | None) -> ChainState:
    """Return a chain's state with its newest entry."""
    count, tip = last_link(connection, table)  # entries are numbered without gaps
    return ChainState(table, count, tip, fault)


def first_fault_in(
    links: Iterable[Link], table: ChainedTable, known: KnownLosses
) -> ChainFault | None:
    """Return the first link that does not hold; a gap that is known is none."""
    expected_seq, expected_hash = 1, FIRST_PREVIOUS_HASH
    for seq, previous_hash, entry_id, own_hash, faults in links:
        if known.explain(table.name, expected_seq, seq - 1, previous_hash):
            expected_seq, expected_hash = seq, previous_hash
        misplaced = link_faults(table.one, seq, expected_seq, previous_hash, expected_hash)
        happened = next(chain(misplaced, faults), None)
        if happened is not None:
            return ChainFault(seq, entry_id, happened, table.one)
        expected_seq, expected_hash = seq + 1, own_hash
    return None


def link_faults(
    one: str, seq: int, expected_seq: int, previous_hash: str, expected_hash: str
) -> Iterator[str]:
    """Yield why a link is not at its place."""
    if seq != expected_seq:
        yield f"{one.capitalize()} number {expected_seq} is gone."
    if previous_hash != expected_hash:
        yield f"It does not follow the {one} before it."


def whole_contents(connection: sqlite3.Connection) -> frozenset[str]:
    """Return the SHA-256 of every text and grid that still has it."""
    texts = ((key, text.encode()) for key, text in all_texts(connection))
    return frozenset(
        key for key, contents in chain(texts, all_grids(connection)) if sha256(contents) == key
    )


def run_links(connection: sqlite3.Connection, whole: frozenset[str]) -> Iterator[Link]:
    """Yield the links of the runs."""
    for rows in all_run_rows(connection):
        run = rows.run
        faults = run_faults(rows, whole)
        yield run["seq"], run["previous_hash"], run["run_id"], run["hash"], faults


def row_links(
    connection: sqlite3.Connection, table: ChainedTable, whole: frozenset[str]
) -> Iterator[Link]:
    """Yield the links of a table without child rows."""
    for row in all_rows(connection, table):
        faults = row_faults(row, table, whole)
        yield row["seq"], row["previous_hash"], row[table.key], row["hash"], faults


def run_faults(rows: RunRows, whole: frozenset[str]) -> Iterator[str]:
    """Yield what is wrong with one run."""
    if rows.run["hash"] != run_hash(rows):
        yield "The run was changed after it was written."
    yield from text_faults(rows.run, RUN_TEXTS, whole)
    for curve in rows.curves:
        if curve["grid_sha256"] not in whole:
            yield f"The frequencies of its curve {curve['name']} were changed or are gone."


def row_faults(row: Row, table: ChainedTable, whole: frozenset[str]) -> Iterator[str]:
    """Yield what is wrong with one entry of another chain."""
    if row["hash"] != row_hash(table.name, row):
        yield f"The {table.one} was changed after it was written."
    yield from text_faults(row, table.texts, whole)


def text_faults(row: Row, columns: tuple[str, ...], whole: frozenset[str]) -> Iterator[str]:
    """Yield which texts behind a row are not what they were; one it never had is not missed."""
    for column in columns:
        if row[column] is not None and row[column] not in whole:
            yield f"The text behind its {column} was changed or is gone."
