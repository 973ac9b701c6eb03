"""What damaged databases could not be read for: the gaps that the chains are known to have."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass

from station.records.chains.chainedrows import LOSSES, all_rows, append, last_link


@dataclass(frozen=True, slots=True)
class Loss:
    """Entries of a chain that are lost, or one text or grid, which has no number.

    `lost_hash` is the hash of the last lost entry, or that of the text or grid.
    """

    lost_from: str
    first_number: int | None
    last_number: int | None
    lost_hash: str

    def __str__(self) -> str:
        if self.first_number is None:
            return f"one of {self.lost_from} ({self.lost_hash[:12]})"
        if self.first_number == self.last_number:
            return f"{self.lost_from} {self.first_number}"
        return f"{self.lost_from} {self.first_number} to {self.last_number}"


@dataclass(frozen=True, slots=True)
class KnownLosses:
    """All losses, as the verification asks for them."""

    gaps: frozenset[Loss]
    contents: frozenset[str]  # hashes of lost texts and grids

    def explain(self, table: str, first: int, last: int, lost_hash: str) -> bool:
        """Return whether a gap of a chain is known."""
        return Loss(table, first, last, lost_hash) in self.gaps


def append_losses(connection: sqlite3.Connection, upkeep_id: str, losses: Iterable[Loss]) -> None:
    """Write losses behind the last one."""
    for loss in losses:
        last_seq, _ = last_link(connection, LOSSES.name)
        columns = {
            "loss_id": f"loss-{last_seq + 1}",
            "upkeep_id": upkeep_id,
            "lost_from": loss.lost_from,
            "first_number": loss.first_number,
            "last_number": loss.last_number,
            "lost_hash": loss.lost_hash,
        }
        append(connection, LOSSES, columns)


def stored_losses(connection: sqlite3.Connection) -> tuple[Loss, ...]:
    """Return every loss, oldest first."""
    return tuple(
        Loss(row["lost_from"], row["first_number"], row["last_number"], row["lost_hash"])
        for row in all_rows(connection, LOSSES)
    )


def known_losses(connection: sqlite3.Connection) -> KnownLosses:
    """Return all losses, as the verification asks for them."""
    found = stored_losses(connection)
    return KnownLosses(
        frozenset(loss for loss in found if loss.first_number is not None),
        frozenset(loss.lost_hash for loss in found if loss.first_number is None),
    )


def known_to_be_lost(connection: sqlite3.Connection, key: str) -> bool:
    """Return whether a text or grid is known to be lost."""
    found = connection.execute(
        "SELECT 1 FROM losses WHERE lost_hash = ? AND first_number IS NULL", (key,)
    )
    return found.fetchone() is not None
