"""What was done to the files of the log, kept in it as a chain of its own."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from station.records.chains.chainedrows import UPKEEP, all_rows, append, last_link
from station.records.rows.values import Row, utc_text


class UpkeepKind(StrEnum):
    """What was done."""

    LET_GO = "let go"  # a recording was deleted by a rule of the maker's
    SWEPT_UP = "swept up"  # a file that a killed process had not finished was deleted
    SET_ASIDE = "set aside"  # a damaged database was moved away and a new one begun


@dataclass(frozen=True, slots=True)
class UpkeepEntry:
    """One act; `contents_sha256` is of what the file held, None where it could not be read."""

    done_utc: datetime
    kind: UpkeepKind
    name: str
    contents_sha256: str | None
    reason: str  # the rule, or what was found, as a sentence


def append_upkeep(connection: sqlite3.Connection, entry: UpkeepEntry) -> None:
    """Write an entry behind the last one."""
    last_seq, _ = last_link(connection, UPKEEP.name)
    columns = {
        "entry_id": f"upkeep-{last_seq + 1}",
        "done_utc": utc_text(entry.done_utc),
        "kind": entry.kind.value,
        "name": entry.name,
        "contents_sha256": entry.contents_sha256,
        "reason": entry.reason,
    }
    append(connection, UPKEEP, columns)


def upkeep_entries(connection: sqlite3.Connection) -> Iterator[UpkeepEntry]:
    """Yield every entry, oldest first."""
    return map(entry_of, all_rows(connection, UPKEEP))


def entry_of(row: Row) -> UpkeepEntry:
    """Return the entry a row tells of."""
    return UpkeepEntry(
        datetime.fromisoformat(row["done_utc"]),
        UpkeepKind(row["kind"]),
        row["name"],
        row["contents_sha256"],
        row["reason"],
    )


def names_let_go(connection: sqlite3.Connection) -> frozenset[str]:
    """Return the names of all recordings that were let go."""
    found = connection.execute("SELECT name FROM upkeep WHERE kind = ?", (UpkeepKind.LET_GO,))
    return frozenset(row["name"] for row in found)
