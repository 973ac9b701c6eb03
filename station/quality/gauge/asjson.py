"""A gauge study as the object that `--json` prints; null stands for what is not finite."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from station.analysis.arrays import FloatArray
from station.analysis.statistics.meansquares import Interval
from station.quality.gauge.findings import CurveFinding, GaugeFindings, NumberFinding
from station.quality.gauge.study import CONFIDENCE_RATIO, GaugeStudy

FORMAT = 1


def findings_as_object(findings: GaugeFindings) -> dict[str, Any]:
    """Return everything that was found."""
    plan = findings.plan
    return {
        "format": FORMAT,
        "study": plan.study_id,
        "title": plan.title,
        "model": plan.model,
        "utc": plan.planned_utc.isoformat(),
        "by": plan.planned_by,
        "simulated": plan.simulated,
        "units": list(plan.serials),
        "operators": list(plan.operators),
        "repeats": plan.repeats,
        "confidence": CONFIDENCE_RATIO,
        "numbers": {one.reading: number_as_object(one) for one in findings.numbers},
        "curves": {one.reading: curve_as_object(one) for one in findings.curves},
        "left_out": dict(findings.left_out),
    }


def number_as_object(one: NumberFinding) -> dict[str, Any]:
    """Return the study of a number; spreads are standard deviations in its unit."""
    found = spreads(one.study, np.array([one.width]))
    return {
        "unit": one.unit,
        "interaction": one.study.interaction,
        "interaction_p": finite(float(one.analysis.interaction_p_value[0])),
        **{name: [finite(float(end[0])) for end in ends] for name, ends in found.items()},
    }


def curve_as_object(one: CurveFinding) -> dict[str, Any]:
    """Return the study of a curve: for every quantity estimate, lower and upper by frequency."""
    found = spreads(one.study, one.width)
    return {
        "unit": one.unit,
        "hz": [float(hz) for hz in one.frequency_hz],
        **{
            name: [[finite(float(value)) for value in end] for end in ends]
            for name, ends in found.items()
        },
    }


def spreads(study: GaugeStudy, width: FloatArray) -> dict[str, tuple[FloatArray, ...]]:
    """Return the quantities of a study, each as estimate, lower and upper."""
    found = {
        "repeatability": rooted(study.repeatability),
        "operators": rooted(study.operator),
        "reproducibility": rooted(study.reproducibility),
        "gauge": rooted(study.gauge),
        "units": rooted(study.part),
        "whole": rooted(study.total),
        "share_of_spread": ends_of(study.study_share),
        "share_of_tolerance": ends_of(study.tolerance_share(width)),
        "distinct_categories": ends_of(study.distinct_categories),
    }
    if study.operator_by_part is not None:
        found["operators_by_units"] = rooted(study.operator_by_part)
    return found


def rooted(variance: Interval) -> tuple[FloatArray, ...]:
    """Return standard deviations of variances."""
    return tuple(np.sqrt(end) for end in ends_of(variance))


def ends_of(found: Interval) -> tuple[FloatArray, ...]:
    """Return estimate, lower and upper."""
    return found.estimate, found.lower, found.upper


def finite(value: float) -> float | None:
    """Return a value JSON can hold."""
    return value if math.isfinite(value) else None
