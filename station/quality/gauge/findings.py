"""What a gauge study found, for every judged number and along every judged curve."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from station.analysis.arrays import FloatArray, read_only
from station.analysis.statistics.anova import Crossed, crossed
from station.errors import RefusedInputError
from station.quality.gauge.study import POOLED_ABOVE, GaugeStudy, gauge_study
from station.quality.statistics.tolerances import Tolerances, tolerances_of
from station.records.kept.gauge import GaugePlan
from station.records.kept.run import Run

Runs = Mapping[int, Run]


@dataclass(frozen=True, slots=True, eq=False)
class NumberFinding:
    """The study of one number; `width` is that of its tolerance, infinite with one side open."""

    reading: str
    unit: str
    analysis: Crossed
    study: GaugeStudy
    width: float


@dataclass(frozen=True, slots=True, eq=False)
class CurveFinding:
    """The study of a curve, frequency by frequency, where all runs have it; shapes (m,)."""

    reading: str
    unit: str
    frequency_hz: FloatArray
    study: GaugeStudy
    width: FloatArray

    def __post_init__(self) -> None:
        for name in ("frequency_hz", "width"):
            object.__setattr__(self, name, read_only(getattr(self, name)))


@dataclass(frozen=True, slots=True, eq=False)
class GaugeFindings:
    """Everything that was found, and the readings that cannot be studied, with the reason."""

    plan: GaugePlan
    numbers: tuple[NumberFinding, ...]
    curves: tuple[CurveFinding, ...]
    left_out: Mapping[str, str]


def gauge_findings(plan: GaugePlan, runs: Runs) -> GaugeFindings:
    """Return what a complete study found.

    A number's interaction is pooled with the repeats where nothing speaks for it; along a curve
    it is kept everywhere, so that neighbouring frequencies are analysed alike.

    Raises
    ------
    RefusedInputError
        If a step is missing, or the runs were judged by different limits.
    """
    missing = len(plan.steps) - len(runs)
    if missing:
        raise RefusedInputError(
            f"Study {plan.study_id} lacks {missing} of {len(plan.steps)} measurements.",
            f"Go on with 'station gauge measure {plan.study_id}'.",
        )
    texts = {run.setup.limit_text for run in runs.values()}
    if len(texts) > 1:
        raise RefusedInputError(
            f"The runs of study {plan.study_id} were judged by different limits.",
            "Plan a new study, and leave the limit file alone meanwhile.",
        )
    tolerances = tolerances_of(texts.pop())
    left_out: dict[str, str] = {}
    numbers = tuple(number_findings(plan, runs, tolerances, left_out))
    curves = tuple(curve_findings(plan, runs, tolerances, left_out))
    return GaugeFindings(plan, numbers, curves, left_out)


def number_findings(
    plan: GaugePlan, runs: Runs, tolerances: Tolerances, left_out: dict[str, str]
) -> Iterator[NumberFinding]:
    """Yield the study of every judged number."""
    for reading, (lower, upper) in tolerances.numbers.items():
        found = {step: run.readings.numbers.get(reading) for step, run in runs.items()}
        values = {step: np.array([one.value]) for step, one in found.items() if one is not None}
        if (table := table_of(plan, values, reading, left_out)) is None:
            continue
        analysis = crossed(table)
        kept = bool(analysis.interaction_p_value[0] <= POOLED_ABOVE)
        unit = next(one.unit for one in found.values() if one is not None)
        yield NumberFinding(
            reading, unit, analysis, gauge_study(analysis, interaction=kept), upper - lower
        )


def curve_findings(
    plan: GaugePlan, runs: Runs, tolerances: Tolerances, left_out: dict[str, str]
) -> Iterator[CurveFinding]:
    """Yield the study of every judged curve, where its band is."""
    for reading in tolerances.bands:
        found = {step: run.readings.curves.get(reading) for step, run in runs.items()}
        curves = {step: curve for step, curve in found.items() if curve is not None}
        if len(curves) < len(runs):
            left_out[reading] = "a run does not have it"
            continue
        first = next(iter(curves.values()))
        width = tolerances.width(reading, first.frequency_hz)
        whole = np.all([np.isfinite(curve.values) for curve in curves.values()], axis=0)
        varies = np.ptp([curve.values for curve in curves.values()], axis=0) > 0.0
        inside = whole & varies & ~np.isnan(width)
        values = {step: curve.values[inside] for step, curve in curves.items()}
        if not inside.any() or (table := table_of(plan, values, reading, left_out)) is None:
            left_out.setdefault(reading, "no frequency of its band can be studied")
            continue
        study = gauge_study(crossed(table), interaction=True)
        yield CurveFinding(reading, first.unit, first.frequency_hz[inside], study, width[inside])


def table_of(
    plan: GaugePlan, values: Mapping[int, FloatArray], reading: str, left_out: dict[str, str]
) -> FloatArray | None:
    """Return values as units by operators by repeats by m; None, and why, if it cannot be."""
    if len(values) < len(plan.steps) or not all(np.isfinite(v).all() for v in values.values()):
        left_out[reading] = "a run does not have it"
        return None
    size = next(iter(values.values())).size
    table = np.empty((len(plan.serials), len(plan.operators), plan.repeats, size))
    for step in plan.steps:
        unit, operator = plan.serials.index(step.serial), plan.operators.index(step.operator)
        table[unit, operator, step.repeat - 1] = values[step.number]
    if not (np.ptp(table, axis=2) > 0.0).any(axis=(0, 1)).all():
        left_out[reading] = "it is the same in every repeat"
        return None
    return table
