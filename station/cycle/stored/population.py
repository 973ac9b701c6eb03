"""The population of a model revision, learned from the units that passed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.analysis.statistics.population import pattern_model
from station.errors import RefusedInputError
from station.judging.files.patternfile import Pattern, frequencies_of
from station.judging.tables.tables import LimitFile
from station.judging.verdicts.verdict import Verdict
from station.records.log.log import RunLog


@dataclass(frozen=True, slots=True, eq=False)
class LearnedPattern:
    """What was learned, and how many units were left out and why."""

    pattern: Pattern
    not_passed: int
    other_frequencies: int


def learned_pattern(
    log: RunLog, limits: LimitFile, curve: str, explained_ratio: float
) -> LearnedPattern:
    """Return the pattern of a curve over all units whose newest run passed.

    A unit that failed last is no member, whatever it did before; one whose curve was read at
    other frequencies than the limit file asks for cannot be one.

    Raises
    ------
    RefusedInputError
        If the limit file does not compute the curve, or too few units are left.
    """
    frequency_hz = frequencies_of(limits.readings, curve)
    if frequency_hz is None:
        raise RefusedInputError(
            f"The limit file does not compute a curve {curve!r}.", "Name one that it computes."
        )
    runs = log.newest_runs(limits.model.name, limits.model.revision)
    passed = [run for run in runs if run.judgement.verdict is Verdict.PASS]
    members = {
        run.serial: found.values
        for run in passed
        if (found := run.readings.curves.get(curve)) is not None
        and np.array_equal(found.frequency_hz, frequency_hz)
    }
    curves = np.array(list(members.values())).reshape(len(members), frequency_hz.size)
    model = pattern_model(frequency_hz, curves, tuple(members), explained_ratio)
    return LearnedPattern(
        Pattern(curve, model), len(runs) - len(passed), len(passed) - len(members)
    )
