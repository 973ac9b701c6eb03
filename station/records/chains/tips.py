"""The tips of the chains, noted beside the database after every commit.

No database can show by itself that its newest entries are gone: a write-ahead log whose end is
damaged looks like one that was never written to the end. So the number and hash of every chain's
newest entry are noted in a small file of their own, after the commit and before anybody is told
the result. The file may lag behind the database, after a power failure for instance, which harms
nothing; a database that lags behind the file has lost entries.

One JSON object: `format` = 1, `schema` the version of the database's schema, `tips` the number and
hash by table; spaces fill it up to a whole number of sectors, so that it is overwritten in place.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from station.records.chains.chain import chain_names
from station.records.chains.chainedrows import last_link

FORMAT = 1
SECTOR_BYTES = 512


@dataclass(frozen=True, slots=True)
class Tips:
    """Number and hash of the newest entry of each chain, and the schema's version."""

    schema: int
    links: Mapping[str, tuple[int, str]]


def tips_of(connection: sqlite3.Connection) -> Tips:
    """Return the tips of a database."""
    (schema,) = connection.execute("PRAGMA user_version").fetchone()
    return Tips(schema, {name: last_link(connection, name) for name in chain_names()})


def write_tips(path: Path, tips: Tips) -> None:
    """Note the tips in place; what a power failure tears, `read_tips` does not take for tips."""
    text = json.dumps({"format": FORMAT, "schema": tips.schema, "tips": tips.links}).encode()
    padded = text.ljust(-(-len(text) // SECTOR_BYTES) * SECTOR_BYTES)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT, 0o666)
    try:
        os.pwrite(handle, padded, 0)
    finally:
        os.close(handle)


def read_tips(path: Path) -> Tips | None:
    """Return the noted tips; None where there are none that can be read."""
    try:
        table = json.loads(path.read_bytes())
        if table["format"] != FORMAT:
            return None
        links = {
            str(name): (int(seq), str(own_hash)) for name, (seq, own_hash) in table["tips"].items()
        }
        return Tips(int(table["schema"]), links)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


def lost_since(tips: Tips, connection: sqlite3.Connection) -> Iterator[str]:
    """Yield, for each chain, what was noted but is not in the database."""
    known = set(chain_names())
    for table, (seq, own_hash) in tips.links.items():
        if seq == 0 or table not in known:
            continue
        count, _ = last_link(connection, table)
        row = connection.execute(f"SELECT hash FROM {table} WHERE seq = ?", (seq,)).fetchone()  # noqa: S608 - checked against our table names
        if row is None:
            yield f"{table} ends at number {count}, but number {seq} was stored."
        elif row["hash"] != own_hash:
            yield f"Number {seq} of {table} is not the one that was stored."
