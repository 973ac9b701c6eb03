"""What the cycle tells while a unit is tested, and when it is done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from station.judging.verdict import Verdict
from station.records.run import Run


class Stage(StrEnum):
    """Where a test is."""

    SECURING = "securing"
    SWEEPING = "sweeping"
    COMPUTING = "computing"
    STORING = "storing"
    REPEATING = "repeating"


@dataclass(frozen=True, slots=True)
class Progress:
    """One step of a running test; `level_dbfs` is the loudest input's latest peak."""

    stage: Stage
    attempt: int
    played_ratio: float = 0.0
    level_dbfs: float = float("-inf")
    reason: str = ""  # why the measurement is repeated


ProgressCallback = Callable[[Progress], None]


@dataclass(frozen=True, slots=True, eq=False)
class UnitReport:
    """All runs of one scan; the last one decides, and every one is stored already."""

    runs: tuple[Run, ...]

    @property
    def final(self) -> Run:
        """The run that decides."""
        return self.runs[-1]


@dataclass(frozen=True, slots=True)
class LastUnit:
    """One line of the list of last units."""

    serial: str
    model: str
    verdict: Verdict
    cause: str


@dataclass(frozen=True, slots=True)
class ShiftCount:
    """Units of this shift by their last verdict, newest unit first in `last`."""

    passed: int
    failed: int
    void: int
    last: tuple[LastUnit, ...]
