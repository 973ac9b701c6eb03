"""Whether stored readings are what a draft would read, or must be read from recordings anew."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

from station.judging.files.planning import MARGIN
from station.quality.judged.manyunits import ManyVerdicts

PATTERN = "pattern"  # what is read anew from the stored curve
TABLES = ("stimulus", "readings", "reference")


def tables_that_differ(stored_text: str, draft_text: str) -> tuple[str, ...]:
    """Return the tables by which a draft would read otherwise than the runs' own limit file."""
    stored, draft = tomllib.loads(stored_text), tomllib.loads(draft_text)
    return tuple(name for name in TABLES if decisive(stored.get(name)) != decisive(draft.get(name)))


def pattern_differs(stored_text: str, draft_text: str) -> bool:
    """Return whether a draft compares with another population than the runs' own limit file."""
    stored, draft = (
        tomllib.loads(text).get("readings", {}).get(PATTERN) for text in (stored_text, draft_text)
    )
    return bool(draft is not None and draft != stored)


def decisive(table: object) -> object:
    """Return a table without what changes judging only."""
    if not isinstance(table, Mapping):
        return table
    kept: dict[str, Any] = {
        key: decisive(value) for key, value in table.items() if key not in (MARGIN, PATTERN, "unit")
    }
    return kept


def unread_limits(verdicts: ManyVerdicts) -> tuple[tuple[str, int], ...]:
    """Return readings that are judged and that runs do not hold, with how many runs."""
    counts: dict[str, int] = {}
    for limit in verdicts.limits:
        count = int(limit.unread.sum())
        counts[limit.reading] = max(count, counts.get(limit.reading, 0))
    return tuple((name, count) for name, count in counts.items() if count)
