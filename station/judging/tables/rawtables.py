"""The raw contents of a limit file, in which faults between tables are searched."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from station.tomlfiles.lines import Place

Contents = Mapping[str, Any]
Faults = Iterator[tuple[Place, str]]


def entries(contents: Contents, key: str) -> list[Contents]:
    """Return the tables of an array of tables that may be missing or no array of tables."""
    found = contents.get(key, [])
    return [entry for entry in found if isinstance(entry, dict)] if isinstance(found, list) else []
