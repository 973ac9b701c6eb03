"""A shift in numbers: how many units, how many passed at once, and what failed."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime

from station.judging.verdicts.verdict import Verdict
from station.judging.verdicts.voids import without_values
from station.records.chains.setapart import OF_PRODUCTION
from station.records.rows.values import utc_text

RUNS_OF_PERIOD = f"""SELECT serial, model, verdict, attempt, reading, side, happened
FROM runs LEFT JOIN causes ON causes.run = runs.seq AND causes.position = 0
WHERE started_utc >= ? AND started_utc < ? AND {OF_PRODUCTION} ORDER BY seq"""  # noqa: S608 - our own words


@dataclass(frozen=True, slots=True)
class ModelSummary:
    """The units of one model: `units` counts each once, by its last run of the period.

    `first_pass` counts the units whose first run that was no void passed.
    """

    model: str
    units: int
    runs: int
    first_pass: int
    passed: int
    failed: int
    void: int


@dataclass(frozen=True, slots=True)
class Story:
    """What befell one unit so far."""

    model: str
    verdicts: list[Verdict] = field(default_factory=list)

    @property
    def first(self) -> Verdict | None:
        """Its first verdict that says something about the unit."""
        return next((one for one in self.verdicts if one is not Verdict.VOID), None)


@dataclass(frozen=True, slots=True)
class CauseKind:
    """What first causes have in common, whatever their values: reading, side, and of a void why."""

    verdict: Verdict
    reading: str
    side: str
    why: str


@dataclass(frozen=True, slots=True)
class ShiftSummary:
    """A period by model, and the first causes of its fails and voids, the most frequent first.

    `causes` are in the words of the log, each with its values; `kinds` counts them without those.
    """

    models: tuple[ModelSummary, ...]
    causes: tuple[tuple[Verdict, str, int], ...]
    kinds: tuple[tuple[CauseKind, int], ...]


def shift_summary(
    connection: sqlite3.Connection, from_utc: datetime, to_utc: datetime
) -> ShiftSummary:
    """Return how the units went that were tested from one instant up to another."""
    stories: dict[str, Story] = {}
    causes: Counter[tuple[Verdict, str]] = Counter()
    kinds: Counter[CauseKind] = Counter()
    for row in connection.execute(RUNS_OF_PERIOD, (utc_text(from_utc), utc_text(to_utc))):
        verdict = Verdict(row["verdict"])
        stories.setdefault(row["serial"], Story(row["model"])).verdicts.append(verdict)
        if verdict is not Verdict.PASS and row["happened"]:
            causes[verdict, row["happened"]] += 1
            why = without_values(row["happened"]) if verdict is Verdict.VOID else ""
            kinds[CauseKind(verdict, row["reading"], row["side"], why)] += 1
    return ShiftSummary(
        tuple(model_summaries(stories)),
        tuple((*cause, count) for cause, count in causes.most_common()),
        tuple(kinds.most_common()),
    )


def model_summaries(stories: dict[str, Story]) -> Iterator[ModelSummary]:
    """Yield one summary per model, by name."""
    for model in sorted({story.model for story in stories.values()}):
        units = [story for story in stories.values() if story.model == model]
        last = Counter(story.verdicts[-1] for story in units)
        yield ModelSummary(
            model,
            len(units),
            sum(len(story.verdicts) for story in units),
            sum(story.first is Verdict.PASS for story in units),
            last[Verdict.PASS],
            last[Verdict.FAIL],
            last[Verdict.VOID],
        )
