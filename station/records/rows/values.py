"""Single values as the log keeps them, and back."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any, TypeAlias

Row: TypeAlias = Mapping[str, Any]  # as sqlite3.Row gives it: str, int, float, bytes or None


def json_text(contents: Mapping[str, object]) -> str:
    """Return compact JSON that SQLite accepts and people can read."""
    return json.dumps(contents, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def json_float(value: float | None) -> float | str | None:
    """Return a number as JSON can hold it."""
    if value is None or math.isnan(value):
        return None
    return float(value) if math.isfinite(value) else str(float(value))


def stored_float(value: float | None) -> float | None:
    """Return a number as a REAL column gives it back: NaN is NULL, and zero has no sign."""
    return None if value is None or math.isnan(value) else float(value) + 0.0


def float_of(stored: float | str | None) -> float:
    """Return the number that was stored, NaN for null."""
    return math.nan if stored is None else float(stored)


def utc_text(instant: datetime) -> str:
    """Return an instant as text that sorts by time; refuse one without a time zone."""
    if instant.tzinfo is None:
        raise ValueError(f"{instant} has no time zone")
    return instant.astimezone(UTC).isoformat(timespec="microseconds")


def sha256(contents: bytes) -> str:
    """Return the SHA-256 of bytes as hex."""
    return hashlib.sha256(contents).hexdigest()
