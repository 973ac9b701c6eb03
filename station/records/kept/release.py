"""One release of a limit file as the log keeps it for ever."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Release:
    """A limit file with the release file that signs it, and what both say of themselves.

    `taken_in_utc` is when this log learnt of it: at once where it was released, later elsewhere.
    `holds_from` is where units of this revision begin, None for the first revision of a model.
    """

    release_id: str
    taken_in_utc: datetime
    model: str
    revision: str
    serial_pattern: str
    holds_from: str | None
    released_utc: datetime
    released_by: str
    public_key: str
    limit_name: str
    limit_text: str
    release_text: str
