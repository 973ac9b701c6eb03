"""What units fail by, the most frequent first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from station.judging.verdicts.verdict import Verdict
from station.quality.watching.scans import Unit


@dataclass(frozen=True, slots=True)
class CauseRow:
    """One reading and side: how many units, their share of all that failed, and shares so far."""

    reading: str
    side: str
    units: int
    share: float
    so_far: float


def cause_rows(units: Sequence[Unit]) -> tuple[CauseRow, ...]:
    """Return the causes of units that failed at first, by what lay furthest outside."""
    counts: Counter[tuple[str, str]] = Counter(
        (unit.first.cause or "?", unit.first.side or "?")
        for unit in units
        if unit.decided and unit.first.verdict is Verdict.FAIL
    )
    total, so_far = sum(counts.values()), 0
    rows = []
    for (reading, side), count in counts.most_common():
        so_far += count
        rows.append(CauseRow(reading, side, count, count / total, so_far / total))
    return tuple(rows)
