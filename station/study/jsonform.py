"""A study as the object that is printed and written as JSON; null stands for what is not finite."""

from __future__ import annotations

import math
from typing import Any

from station.analysis.statistics.proportions import CONFIDENCE_RATIO, Proportion
from station.study.detectioncurve import Threshold
from station.study.findings import FaultFinding, Findings, Tally
from station.study.jobs import StudyPlan
from station.study.ladders import SeverityLadder
from station.study.outcome import End
from station.study.resultsfile import Header


def study_as_object(header: Header, plan: StudyPlan, findings: Findings) -> dict[str, Any]:
    """Return everything a study found."""
    good, speed = findings.good, findings.speed
    return {
        **header.as_object(),
        "good_units": plan.good_units,
        "units_per_rung": plan.units_per_rung,
        "confidence_ratio": CONFIDENCE_RATIO,
        "good": {
            "every": tally_as_object(good.every),
            "with_bang": tally_as_object(good.with_bang),
            "without_bang": tally_as_object(good.without_bang),
            "repeated": share_as_object(good.repeated),
        },
        "faults": [fault_as_object(finding) for finding in findings.faults],
        "station": [fault_as_object(finding) for finding in findings.station],
        "speed": {
            "units_per_s": finite(speed.units_per_s),
            "simulating_ratio": finite(speed.simulating_ratio),
            "judging_ratio": finite(speed.judging_ratio),
        },
    }


def fault_as_object(finding: FaultFinding) -> dict[str, Any]:
    """Return what became of the units with one fault."""
    ladder, curve = finding.ladder, finding.curve
    return {
        "name": ladder.name,
        "fault": ladder.fault.name,
        "meaning": ladder.fault.meaning,
        "unit": ladder.fault.unit,
        "harmless": ladder.harmless,
        "caught": finding.caught,
        "rungs": [
            {"severity": rung.severity, **tally_as_object(rung.tally)} for rung in finding.rungs
        ],
        "every": tally_as_object(finding.every),
        "thresholds": []
        if curve is None
        else [threshold_as_object(ladder, threshold) for threshold in curve.thresholds],
        "steep": curve is not None and curve.steep,
        "poor_fit": curve is not None and curve.poor_fit,
    }


def threshold_as_object(ladder: SeverityLadder, threshold: Threshold) -> dict[str, Any]:
    """Return a threshold; without a severity, `reached` says on which side of the ladder it is."""
    reached = "within"
    if math.isinf(threshold.position):
        reached = "beyond" if threshold.position > 0.0 else "before"
    return {
        "probability": threshold.probability,
        "reached": reached,
        "severity": severity_at(ladder, threshold.position),
        "lower": severity_at(ladder, threshold.lower),
        "upper": severity_at(ladder, threshold.upper),
    }


def severity_at(ladder: SeverityLadder, position: float) -> float | None:
    """Return the severity at a position, null outside of what is known."""
    return None if math.isinf(position) else ladder.severity(position)


def tally_as_object(tally: Tally) -> dict[str, Any]:
    """Return how a number of units ended."""
    return {
        "n": tally.n,
        **{end.value: share_as_object(tally.share(end)) for end in End},
        "first_causes": dict(tally.first_causes),
        "void_causes": dict(tally.void_causes),
        "told": dict(tally.told),
    }


def share_as_object(share: Proportion) -> dict[str, Any]:
    """Return a share with its interval."""
    return {
        "hits": share.hits,
        "ratio": finite(share.ratio),
        "lower": share.lower_ratio,
        "upper": share.upper_ratio,
    }


def finite(value: float) -> float | None:
    """Return a value JSON can hold."""
    return value if math.isfinite(value) else None
