"""What the cycle tells while a unit is tested, and when it is done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from station.records.kept.run import Run


class Stage(StrEnum):
    """Where a test is."""

    WAITING = "waiting"
    SECURING = "securing"
    CHARGING = "charging"
    SWEEPING = "sweeping"
    COMPUTING = "computing"
    STORING = "storing"
    REPEATING = "repeating"


@dataclass(frozen=True, slots=True)
class Progress:
    """One step of a running test; `level_dbfs` is the loudest input's latest peak.

    `ears_db_spl` is how loud it gets, where that calls for hearing protection.
    """

    stage: Stage
    attempt: int
    played_ratio: float = 0.0
    level_dbfs: float = float("-inf")
    reason: str = ""  # why the measurement is repeated
    ears_db_spl: float | None = None


ProgressCallback = Callable[[Progress], None]


@dataclass(frozen=True, slots=True, eq=False)
class UnitReport:
    """All runs of one scan; the last one decides, and every one is stored already.

    `notices` are what the operator should pass on about the station; they change no verdict.
    """

    runs: tuple[Run, ...]
    notices: tuple[str, ...] = ()

    @property
    def final(self) -> Run:
        """The run that decides."""
        return self.runs[-1]
