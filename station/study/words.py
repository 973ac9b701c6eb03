"""Shares, severities and thresholds in the words of a table."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from station.analysis.statistics.proportions import Proportion
from station.judging.words.words import quantity_words
from station.study.detectioncurve import Threshold
from station.study.findings import FaultFinding, Speed
from station.study.ladders import SeverityLadder
from station.study.outcome import End

MOST_CAUSES = 3
UNIT_OF = {"ratio": "%"}


def percent_words(ratio: float) -> str:
    """Return a share in percent, to the digits that matter."""
    if math.isnan(ratio):
        return "–"
    percent = 100.0 * ratio
    digits = 0 if percent in (0.0, 100.0) else 2 if percent < 1.0 else 1
    return f"{percent:.{digits}f} %"


def share_words(share: Proportion) -> str:
    """Return a share with its count and its interval."""
    if share.n == 0:
        return "none tested"
    lower = percent_words(share.lower_ratio).removesuffix(" %")
    between = f"{lower} to {percent_words(share.upper_ratio)}"
    return f"{share.hits} of {share.n} = {percent_words(share.ratio)} ({between})"


def severity_words(ladder: SeverityLadder, severity: float) -> str:
    """Return a severity with its unit; shares as what is off, in percent."""
    unit = ladder.fault.unit
    if unit == "ratio":
        off = 100.0 * (severity - ladder.harmless)
        sign = "−" if off < 0.0 else "+" if ladder.fault.lowest < ladder.harmless else ""
        return f"{sign}{abs(off):.3g} %"
    if unit in ("", "number"):
        return ""
    if unit == "samples":
        return f"{severity:.0f} sample{'' if severity == 1.0 else 's'}"
    return quantity_words(severity, unit).replace("-", "−")


def threshold_words(finding: FaultFinding, threshold: Threshold) -> str:
    """Return where a fault is found with some probability, and how well that is known."""
    ladder = finding.ladder
    if threshold.position == math.inf:
        return "not reached"
    if threshold.position == -math.inf:
        return f"below {severity_words(ladder, ladder.severities[0])}"
    found = severity_words(ladder, ladder.severity(threshold.position))
    unit = found[found.rfind(UNIT_OF.get(ladder.fault.unit, ladder.fault.unit)) - 1 :]
    lower, upper = (
        "…" if math.isinf(end) else severity_words(ladder, ladder.severity(end)).removesuffix(unit)
        for end in (threshold.lower, threshold.upper)
    )
    return f"{found} ({lower} to {upper})"


def causes_words(causes: Mapping[str, int], n: int) -> str:
    """Return the most frequent causes with the share of units they decided."""
    if not causes:
        return "nothing"
    most = list(causes.items())[:MOST_CAUSES]
    words = [f"{name} {100.0 * count / n:.0f} %" for name, count in most]
    rest = sum(causes.values()) - sum(count for _, count in most)
    return ", ".join(words + ([f"others {100.0 * rest / n:.0f} %"] if rest else []))


def doubt_words(finding: FaultFinding) -> str:
    """Return what to keep in mind about a fault's thresholds."""
    curve = finding.curve
    if curve is None:
        return ""
    doubts = []
    if curve.steep:
        doubts.append("rises within one rung")
    if curve.poor_fit:
        doubts.append("counts do not follow the curve")
    return ", ".join(doubts)


def missed_words(findings: Iterable[FaultFinding]) -> list[str]:
    """Return the faults that nothing catches, and which of them void the measurement instead."""
    missed = []
    for finding in findings:
        last = finding.rungs[-1].tally
        if not finding.caught:
            voids = 2 * last.ends.get(End.VOID, 0) > last.n
            missed.append(f"{finding.ladder.name}{' (void)' if voids else ''}")
    return missed


def speed_words(speed: Speed) -> str:
    """Return what testing costs."""
    if math.isnan(speed.units_per_s):
        return "No processor time was measured."
    whole = speed.simulating_ratio + speed.judging_ratio
    return (
        f"{speed.units_per_s:.2f} units per second and core. One sweep takes as long as "
        f"{whole:.0f} times four real transforms of its length, padded to a fast one: "
        f"{speed.simulating_ratio:.0f} to simulate, {speed.judging_ratio:.0f} to judge."
    )
