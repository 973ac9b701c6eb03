"""What became of one unit of a study, and its line in the results file."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any

from station.study.jobs import Key


class End(StrEnum):
    """How a unit's test ended: with a verdict, or refused by a station that could not test."""

    PASS = "pass"
    FAIL = "fail"
    VOID = "void"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Cost:
    """Processor time of one unit, and of four bare transforms for each of its sweeps."""

    simulating_s: float
    judging_s: float
    transforms_s: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """The end of one unit; `causes` names readings or inputs, the furthest outside first."""

    key: Key
    serial: str
    end: End
    sweeps: int
    bang_db_spl: float | None
    causes: tuple[str, ...]
    told: str  # what the operator is told
    cost: Cost


def line_of(outcome: Outcome) -> str:
    """Return an outcome as one line of JSON."""
    return json.dumps(asdict(outcome), ensure_ascii=False, allow_nan=False)


def outcome_of(line: str) -> Outcome:
    """Return the outcome of a line; raise ValueError, KeyError or TypeError if it is none."""
    row: dict[str, Any] = json.loads(line)
    return Outcome(
        key=Key(str(row["key"]["group"]), float(row["key"]["severity"]), int(row["key"]["number"])),
        serial=str(row["serial"]),
        end=End(row["end"]),
        sweeps=int(row["sweeps"]),
        bang_db_spl=None if row["bang_db_spl"] is None else float(row["bang_db_spl"]),
        causes=tuple(str(cause) for cause in row["causes"]),
        told=str(row["told"]),
        cost=Cost(**{name: float(value) for name, value in row["cost"].items()}),
    )
