"""A crossed gauge study: where the spread of readings comes from, and if it is small enough."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.stats import f as f_distribution

from station.analysis.arrays import FloatArray
from station.analysis.statistics.anova import Crossed
from station.analysis.statistics.meansquares import (
    Interval,
    Term,
    combination_interval,
    shrink,
    stretch,
)

Change = Callable[[FloatArray], FloatArray]

CONFIDENCE_RATIO = 0.95
POOLED_ABOVE = 0.25  # of the interaction's p; common practice of gauge studies, no source
SPREAD = 6.0  # standard deviations that hold 99.73 % of a normal distribution


@dataclass(frozen=True, slots=True, eq=False)
class GaugeStudy:
    """Variances of m quantities, each with its interval; shapes (m,), units squared.

    `gauge` is what all measuring adds: repeatability, operators and, where there is one, their
    interaction with the parts. `part_over_gauge` is the ratio of variances. Estimates below zero,
    which happen where there is nothing to find, are zero; so are ends of intervals.
    """

    interaction: bool
    repeatability: Interval
    operator: Interval
    operator_by_part: Interval | None
    reproducibility: Interval
    gauge: Interval
    part: Interval
    total: Interval
    part_over_gauge: Interval

    @property
    def distinct_categories(self) -> Interval:
        """How many groups of parts the gauge can tell apart: √2 · σ(part) / σ(gauge)."""
        return mapped(self.part_over_gauge, lambda ratio: np.sqrt(2.0 * ratio))

    @property
    def study_share(self) -> Interval:
        """Standard deviation of the gauge over that of all readings, a ratio."""
        found = mapped(self.part_over_gauge, lambda ratio: 1.0 / np.sqrt(1.0 + ratio))
        return Interval(found.estimate, found.upper, found.lower)

    def tolerance_share(self, width: FloatArray) -> Interval:
        """Return six standard deviations of the gauge over the width of the tolerance, a ratio."""
        return mapped(self.gauge, lambda variance: SPREAD * np.sqrt(variance) / width)

    @property
    def standard_uncertainty(self) -> FloatArray:
        """Standard deviation of one reading by anybody: what a decision rule can use."""
        return np.sqrt(self.gauge.estimate)


def gauge_study(
    analysis: Crossed, *, interaction: bool, confidence_ratio: float = CONFIDENCE_RATIO
) -> GaugeStudy:
    """Return the study of a crossed analysis, its interaction kept or pooled with the repeats.

    References
    ----------
    .. [1] Burdick, Borror and Montgomery, J. Quality Technology 35(4), 2003, pp. 342-354
    """
    p, o, r = analysis.parts, analysis.operators, analysis.repeats

    def part(times: float) -> Term:
        return Term(analysis.part_ms, analysis.part_df, times)

    def operator(times: float) -> Term:
        return Term(analysis.operator_ms, analysis.operator_df, times)

    def between(times: float) -> Term:
        return Term(analysis.interaction_ms, analysis.interaction_df, times)

    def repeat(times: float) -> Term:
        if interaction:
            return Term(analysis.repeat_ms, analysis.repeat_df, times)
        return Term(analysis.pooled_ms, analysis.pooled_df, times)

    def found(plus: list[Term], *minus: Term) -> Interval:
        return not_negative(combination_interval(plus, minus, confidence_ratio))

    under = between if interaction else repeat  # what parts and operators are compared with
    if interaction:
        within = [between((p - 1) / (p * r)), repeat((r - 1) / r)]
        whole = [between((p * o - p - o) / (p * o * r)), repeat((r - 1) / r)]
    else:
        within = [repeat((p * r - 1) / (p * r))]
        whole = [repeat((p * o * r - p - o) / (p * o * r))]
    by_operator = found([operator(1.0 / (p * r))], under(1.0 / (p * r)))
    both = [operator(1.0 / (p * r)), between((p - 1) / (p * r))]
    return GaugeStudy(
        interaction,
        found([repeat(1.0)]),
        by_operator,
        found([between(1.0 / r)], repeat(1.0 / r)) if interaction else None,
        found(both, repeat(1.0 / r)) if interaction else by_operator,
        found([operator(1.0 / (p * r)), *within]),
        found([part(1.0 / (o * r))], under(1.0 / (o * r))),
        found([part(1.0 / (o * r)), operator(1.0 / (p * r)), *whole]),
        ratio_interval(analysis, under(1.0), within, confidence_ratio),
    )


def ratio_interval(
    analysis: Crossed, under: Term, within: list[Term], confidence_ratio: float
) -> Interval:
    """Return the variance of the parts over that of the gauge."""
    p, o, r = analysis.parts, analysis.operators, analysis.repeats
    tail = 0.5 * (1.0 - confidence_ratio)
    rest = sum(term.value for term in within)

    def ratio(part_times: float, under_times: float, operator_times: float) -> FloatArray:
        above = part_times * (analysis.part_ms - under_times * under.ms) / (o * r)
        below = part_times * operator_times * analysis.operator_ms / (p * r) + rest
        return np.maximum(above / below, 0.0)

    low, high = 1.0 - shrink(analysis.part_df, tail), 1.0 + stretch(analysis.part_df, tail)
    return Interval(
        ratio(1.0, 1.0, 1.0),
        ratio(
            low,
            float(f_distribution.ppf(1.0 - tail, analysis.part_df, under.df)),
            float(f_distribution.ppf(1.0 - tail, analysis.part_df, analysis.operator_df)),
        ),
        ratio(
            high,
            float(f_distribution.ppf(tail, analysis.part_df, under.df)),
            float(f_distribution.ppf(tail, analysis.part_df, analysis.operator_df)),
        ),
    )


def not_negative(found: Interval) -> Interval:
    """Return an interval cut off at zero."""
    return mapped(found, lambda value: np.maximum(value, 0.0))


def mapped(found: Interval, change: Change) -> Interval:
    """Return an interval of what rises with another quantity."""
    return Interval(change(found.estimate), change(found.lower), change(found.upper))
