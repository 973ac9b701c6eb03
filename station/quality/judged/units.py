"""Which stored runs are asked, and their readings side by side."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from station.errors import RefusedInputError
from station.judging.verdicts.verdict import Verdict
from station.records.columns.columns import BoolArray, Columns
from station.records.log.log import RunLog
from station.records.summaries.runlist import ListedRun, Period


class Which(StrEnum):
    """Which runs of a unit count."""

    NEWEST = "newest"  # that can be trusted, if there is one
    FIRST = "first"
    EVERY = "every"


@dataclass(frozen=True, slots=True)
class Choice:
    """A choice among the runs of a model; `serials` is a regular expression for whole serials."""

    period: Period = field(default_factory=Period)
    serials: str | None = None
    which: Which = Which.NEWEST
    passed_only: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class StoredUnits:
    """The chosen runs, oldest first, with their readings in the same order."""

    runs: tuple[ListedRun, ...]
    readings: Columns

    @property
    def untrusted(self) -> BoolArray:
        """Which runs say nothing about their unit whatever the limits."""
        return np.array([run.untrusted for run in self.runs], dtype=np.bool_)


def stored_units(log: RunLog, model: str, choice: Choice) -> StoredUnits:
    """Return the chosen runs of a model with their readings.

    Raises
    ------
    RefusedInputError
        If there is none.
    """
    runs = chosen_runs(log, model, choice)
    seq, columns = log.columns(model)  # read after the list, so that it holds all of it
    rows = np.searchsorted(seq, np.array([run.seq for run in runs], dtype=np.int64))
    return StoredUnits(runs, columns.taken(rows))


def chosen_runs(log: RunLog, model: str, choice: Choice) -> tuple[ListedRun, ...]:
    """Return the chosen runs of a model, oldest first; raise RefusedInputError if none."""
    listed = log.list_runs(model, choice.period)
    if choice.serials is not None:
        pattern = serial_pattern(choice.serials)
        listed = tuple(run for run in listed if pattern.fullmatch(run.serial))
    runs = runs_that_count(listed, choice.which)
    if choice.passed_only:
        runs = tuple(run for run in runs if run.verdict is Verdict.PASS)
    if not runs:
        raise RefusedInputError(
            f"The log has no such run of {model}.",
            "Check the period and the serial numbers; simulated runs are found with --simulate.",
        )
    return runs


def serial_pattern(text: str) -> re.Pattern[str]:
    """Return a pattern of serial numbers; refuse what is none."""
    try:
        return re.compile(text)
    except re.error as error:
        raise RefusedInputError(
            f"{text!r} is no pattern of serial numbers: {error}.",
            "Write a regular expression, for example T2A000[0-4][0-9].",
        ) from error


def runs_that_count(runs: Iterable[ListedRun], which: Which) -> tuple[ListedRun, ...]:
    """Return one run of each unit, or every run, in the order of the log."""
    if which is Which.EVERY:
        return tuple(runs)
    kept: dict[str, ListedRun] = {}
    for run in runs:
        known = kept.get(run.serial)
        if known is None or (which is Which.NEWEST and (known.untrusted or not run.untrusted)):
            kept[run.serial] = run
    return tuple(sorted(kept.values(), key=lambda run: run.seq))
