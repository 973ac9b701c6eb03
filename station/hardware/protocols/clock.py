"""Time as something that is passed in, so that waits cost tests nothing."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Wall clock for the record, monotonic clock for intervals, and waiting."""

    def utc_now(self) -> datetime:
        """Return the date and time, in UTC."""

    def monotonic_s(self) -> float:
        """Return seconds since some instant; never steps."""

    def wait(self, seconds: float) -> None:
        """Let this much time pass."""


class SystemClock:
    """The computer's own clocks."""

    def utc_now(self) -> datetime:
        """Return the date and time, in UTC."""
        return datetime.now(UTC)

    def monotonic_s(self) -> float:
        """Return seconds since some instant; never steps."""
        return time.monotonic()

    def wait(self, seconds: float) -> None:
        """Let this much time pass."""
        time.sleep(seconds)
