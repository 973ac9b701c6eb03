"""What was learned, as a table."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from station.cli.shared.tables import plain_table
from station.judging.tables.tables import LimitFile
from station.quality.learning.learn import Learned, LearnedLimits, LearningRule
from station.quality.learning.text import Origin, percent, summary


def learned_text(
    out: Path, learned: LearnedLimits, limits: LimitFile, origin: Origin, rule: LearningRule
) -> str:
    """Return what was learned, for a terminal."""
    table = plain_table(
        ("reading", "standard deviations", "breakpoints", "lower", "upper"),
        [*map(row_of, learned.bands), *map(row_of, learned.numbers)],
    )
    kept = tuple(kept_readings(limits, rule))
    parts = [f"{out}: a draft; it decides nothing until it is released.", table]
    parts.append("\n".join(summary(rule, origin)))
    if kept:
        parts.append(f"Left as they were: {', '.join(kept)} (a coverage of "
                     f"{percent(rule.coverage)} does not speak of them).")  # fmt: skip
    parts.append(f"Try it before it is released: station limits try {out}")
    return "\n\n".join(parts)


def row_of(one: Learned) -> tuple[str, ...]:
    """Return one limit as a row."""
    ends = ["" if value is None else f"{value:g}" for value in (one.lower, one.upper)]
    points = str(len(one.points)) if one.points else ""
    return one.reading, f"{one.factor:.2f}", points, *ends


def kept_readings(limits: LimitFile, rule: LearningRule) -> Iterator[str]:
    """Yield the readings whose limits stayed."""
    for reading in (*(x.reading for x in limits.bands), *(x.reading for x in limits.numbers)):
        if rule.keeps(reading):
            yield reading
