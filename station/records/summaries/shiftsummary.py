"""A shift in numbers: how many units, how many passed at once, and what failed.

Causes are counted by what they have in common, because no two are alike in their values: who leads
a line wants to know what fails most, and which input or what trouble makes runs void.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime

from station.analysis.trust.integrity import WORDS
from station.errors import STOPPED
from station.judging.verdicts.judge import MISTAKEN
from station.judging.verdicts.verdict import Verdict
from station.judging.verdicts.voids import without_values
from station.records.chains.setapart import OF_PRODUCTION
from station.records.rows.values import utc_text

RUNS_OF_PERIOD = f"""SELECT serial, model, verdict, attempt, reading, side, happened
FROM runs LEFT JOIN causes ON causes.run = runs.seq AND causes.position = 0
WHERE started_utc >= ? AND started_utc < ? AND {OF_PRODUCTION} ORDER BY seq"""  # noqa: S608 - our own words


# Why a run is void, where the sentence is always the same.
VOID_SENTENCES = frozenset({*(happened for happened, _ in WORDS.values()), MISTAKEN, STOPPED})


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
    """What first causes have in common, whatever their values: reading and side.

    `why` is why a run is void, where that is one of VOID_SENTENCES, and empty elsewhere.
    """

    verdict: Verdict
    reading: str
    side: str
    why: str


@dataclass(frozen=True, slots=True)
class ShiftSummary:
    """A period by model, and in how many runs what was the first cause, the most frequent first."""

    models: tuple[ModelSummary, ...]
    causes: tuple[tuple[CauseKind, int], ...]


def shift_summary(
    connection: sqlite3.Connection, from_utc: datetime, to_utc: datetime
) -> ShiftSummary:
    """Return how the units went that were tested from one instant up to another."""
    stories: dict[str, Story] = {}
    causes: Counter[CauseKind] = Counter()
    for row in connection.execute(RUNS_OF_PERIOD, (utc_text(from_utc), utc_text(to_utc))):
        verdict = Verdict(row["verdict"])
        stories.setdefault(row["serial"], Story(row["model"])).verdicts.append(verdict)
        if verdict is not Verdict.PASS and row["happened"]:
            causes[kind_of(verdict, row["reading"], row["side"], row["happened"])] += 1
    return ShiftSummary(tuple(model_summaries(stories)), tuple(causes.most_common()))


def kind_of(verdict: Verdict, reading: str, side: str, happened: str) -> CauseKind:
    """Return what a first cause has in common with others."""
    why = without_values(happened) if verdict is Verdict.VOID else ""
    return CauseKind(verdict, reading, side, why if why in VOID_SENTENCES else "")


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
