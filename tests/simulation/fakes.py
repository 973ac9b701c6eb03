"""A clock that waits without waiting."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta


class FakeClock:
    """Time passes only when somebody waits."""

    def __init__(self) -> None:
        self.now_s = 0.0
        self.waits_s: list[float] = []

    def utc_now(self) -> datetime:
        return datetime(2026, 1, 1, tzinfo=UTC) + timedelta(seconds=self.now_s)

    def monotonic_s(self) -> float:
        return self.now_s

    def wait(self, seconds: float) -> None:
        self.waits_s.append(seconds)
        self.now_s += seconds
