"""Advice: which sentence of the limit file fits what failed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.analysis.arrays import FloatArray
from station.judging.tables.tables import AdviceTable, Finding


@dataclass(frozen=True, slots=True, eq=False)
class Failing:
    """Where and how far one reading lies outside its limits.

    All arrays have the shape (n,) of the judged points; a number has one point without a
    frequency (NaN). `depth` is positive outside.
    """

    frequency_hz: FloatArray
    depth: FloatArray
    below: NDArray[np.bool_]
    above: NDArray[np.bool_]


def fitting_advice(
    rules: Sequence[AdviceTable], failing: Mapping[str, Failing]
) -> tuple[AdviceTable, ...]:
    """Return the rules that fit what failed, in the order of the file."""
    return tuple(
        rule
        for rule in rules
        if all(holds(finding, failing) for finding in rule.when)
        and not any(holds(finding, failing) for finding in rule.unless)
    )


def holds(finding: Finding, failing: Mapping[str, Failing]) -> bool:
    """Return whether a finding is true of what failed.

    It is when the reading lies outside on the wanted side, within the wanted frequencies, by at
    least `by` at some point, and on at least `share` of the judged points there.
    """
    if finding.reading not in failing:
        return False
    where = failing[finding.reading]
    in_span = np.ones(where.depth.shape, dtype=bool)
    if finding.from_hz is not None:
        in_span &= where.frequency_hz >= finding.from_hz
    if finding.to_hz is not None:
        in_span &= where.frequency_hz <= finding.to_hz
    sides = {"below": where.below, "above": where.above, "either": where.below | where.above}
    outside = sides[finding.side] & in_span
    if not outside.any() or where.depth[outside].max() < finding.by:
        return False
    return bool(np.count_nonzero(outside) >= finding.share * np.count_nonzero(in_span))


def advice_on(reading: str, fitting: Sequence[AdviceTable]) -> str:
    """Return the first fitting advice that speaks of a reading, or no words."""
    for rule in fitting:
        if any(finding.reading == reading for finding in rule.when):
            return rule.say
    return ""
