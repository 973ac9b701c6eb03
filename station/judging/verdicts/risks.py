"""What a decision rule means for one run: how likely each reading conforms, and the stated risk."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np
from scipy.special import ndtr

from station.analysis.arrays import FloatArray
from station.analysis.readings import Number, Readings
from station.judging.tables.acceptance import standard_uncertainty, uncertainty_at
from station.judging.tables.decisiontables import DecisionTable, UncertaintyTable
from station.judging.tables.tables import LimitFile, NumberTable
from station.judging.verdicts.verdict import AppliedBand, Conformity, Decision, Judgement, Verdict


def conforming_probability(
    value: FloatArray, standard: FloatArray, lower: FloatArray, upper: FloatArray
) -> FloatArray:
    """Return the probability that true values lie within tolerance limits.

    The true value is normal about the measured one, with nothing known of it beforehand
    (JCGM 106:2012, 7.2 to 7.4); one side may be infinite.
    """
    probability: FloatArray = ndtr((upper - value) / standard) - ndtr((lower - value) / standard)
    return probability


def with_decision(judgement: Judgement, limits: LimitFile, readings: Readings) -> Judgement:
    """Return a judgement that names its decision rule, if its limit file has one."""
    decision = limits.decision
    if decision is None:
        return judgement
    bands = dict(judgement.bands)
    found: dict[str, Conformity] = {}
    for table in decision.uncertainties:
        if (band := bands.get(table.reading)) is not None:
            guarded = with_guard(band, table, decision.guard_factor)
            bands[table.reading] = guarded
            found[table.reading] = conformity_of_band(guarded, table)
        elif table.reading in judgement.margins:
            found |= dict(conformities_of_number(table, decision, limits, readings.numbers))
    named = Decision(decision.rule, decision.k, decision.r, found)
    return replace(judgement, bands=bands, decision=named)


def with_guard(band: AppliedBand, table: UncertaintyTable, factor: float) -> AppliedBand:
    """Return an applied band that knows how wide its guard band is."""
    return replace(band, guard=factor * uncertainty_at(table, band.frequency_hz))


def conformity_of_band(band: AppliedBand, table: UncertaintyTable) -> Conformity:
    """Return how likely a curve conforms at the point where that is least likely."""
    assert band.guard is not None
    standard = uncertainty_at(table, band.frequency_hz)
    lower, upper = band.lower - band.guard, band.upper + band.guard
    probability = conforming_probability(band.values, standard, lower, upper)
    worst = int(np.argmin(probability))
    return Conformity(
        float(standard[worst]),
        float(band.guard[worst]),
        float(probability[worst]),
        band.unit,
        float(band.frequency_hz[worst]),
        (float(lower[worst]), float(upper[worst])),
    )


def conformities_of_number(
    table: UncertaintyTable,
    decision: DecisionTable,
    limits: LimitFile,
    numbers: Mapping[str, Number],
) -> Iterator[tuple[str, Conformity]]:
    """Yield how likely a number conforms; nothing where it or its uncertainty is not there."""
    number = numbers.get(table.reading)
    standard = standard_uncertainty(table, numbers)
    limit = next((each for each in limits.numbers if each.reading == table.reading), None)
    if number is None or limit is None or not math.isfinite(number.value):
        return
    if not standard > 0.0:
        return
    yield table.reading, conformity_of_number(number, standard, limit, decision.guard_factor)


def conformity_of_number(
    number: Number, standard: float, limit: NumberTable, factor: float
) -> Conformity:
    """Return how likely a number conforms to its tolerance limits."""
    lower = -math.inf if limit.lower is None else limit.lower
    upper = math.inf if limit.upper is None else limit.upper
    probability = conforming_probability(
        *(np.array([value]) for value in (number.value, standard, lower, upper))
    )
    return Conformity(
        standard, factor * standard, float(probability[0]), number.unit, None, (lower, upper)
    )


def stated_risk(judgement: Judgement) -> tuple[str, str, float] | None:
    """Return whose risk a verdict carries, by which reading, and how large it is.

    A pass carries the consumer's: that the unit does not conform although it passed, by the
    reading for which that is likeliest. A fail carries the producer's: that the reading at fault
    conforms although the unit failed, by the failing reading for which that is least likely.
    None for a void, without a decision rule, and where no such reading has an uncertainty.
    """
    if judgement.decision is None or judgement.verdict is Verdict.VOID:
        return None
    known = {
        name: found.conforming_probability
        for name, found in judgement.decision.conformities.items()
    }
    if judgement.verdict is Verdict.PASS:
        worst = min(known, key=lambda name: known[name], default=None)
        return None if worst is None else ("consumer", worst, 1.0 - known[worst])
    failing = [cause.reading.removesuffix(".offset") for cause in judgement.causes]
    if any(name not in known for name in failing):
        return None  # one that has no uncertainty counts as certain
    worst = min(failing, key=lambda name: known[name])
    return "producer", worst, known[worst]
