"""What a study of detection power found, as tables on the terminal."""

from __future__ import annotations

from collections.abc import Iterator

from station.cli.shared.tables import plain_table
from station.study.findings import FaultFinding, Findings, GoodFinding, Tally
from station.study.jobs import StudyPlan
from station.study.outcome import End
from station.study.resultsfile import Header
from station.study.words import (
    causes_words,
    doubt_words,
    missed_words,
    percent_words,
    severity_words,
    share_words,
    speed_words,
    threshold_words,
)

GOOD_HEADERS = ("good units", "rejected by mistake", "void in the end", "rejected by")
GRADED_HEADERS = ("fault", "found 50 %", "90 %", "99 %", "at the grossest", "first cause", "note")
GRADED_WIDTHS = (18, 18, 18, 18, 16, 26, 14)
ABSOLUTE_HEADERS = ("fault", "found", "void", "first cause")
STATION_HEADERS = ("fault of the station", "severity", "n", "void", "refused", "blamed", "passed")


def study_text(header: Header, plan: StudyPlan, findings: Findings) -> str:
    """Return everything a study found as text."""
    parts = [
        f"Detection power of {header.limits_name}: {header.model} revision {header.revision}, "
        f"{plan.good_units} good units, {plan.units_per_rung} at each severity, "
        f"seed {plan.seed}; intervals hold 95 %.",
        plain_table(GOOD_HEADERS, list(good_rows(findings.good))),
        f"More than one sweep was needed by {share_words(findings.good.repeated)}.",
    ]
    graded = [finding for finding in findings.faults if finding.ladder.graded]
    if graded:
        rows = [graded_row(finding) for finding in graded]
        parts.append(plain_table(GRADED_HEADERS, rows, GRADED_WIDTHS))
    absolute = [finding for finding in findings.faults if not finding.ladder.graded]
    if absolute:
        parts.append(plain_table(ABSOLUTE_HEADERS, [absolute_row(found) for found in absolute]))
    if findings.station:
        rows = [row for finding in findings.station for row in station_rows(finding)]
        parts.append(plain_table(STATION_HEADERS, rows))
    parts += [missed_text(findings), speed_words(findings.speed)]
    return "\n\n".join(parts)


def good_rows(good: GoodFinding) -> Iterator[tuple[str, str, str, str]]:
    """Yield a row for all good units, and for those with and without a bang."""
    for name, counted in (
        ("all", good.every),
        ("bang in the first sweep", good.with_bang),
        ("no bang", good.without_bang),
    ):
        failed, void = counted.share(End.FAIL), counted.share(End.VOID)
        causes = causes_words(counted.first_causes, failed.hits) if failed.hits else ""
        yield name, share_words(failed), share_words(void), causes


def graded_row(finding: FaultFinding) -> tuple[str, ...]:
    """Return the row of a fault with a severity."""
    assert finding.curve is not None
    last = finding.rungs[-1]
    grossest = severity_words(finding.ladder, last.severity)
    found = percent_words(last.tally.share(End.FAIL).ratio)
    return (
        finding.ladder.name,
        *(threshold_words(finding, threshold) for threshold in finding.curve.thresholds),
        f"{found} at {grossest}",
        cause_share(finding.every),
        doubt_words(finding),
    )


def absolute_row(finding: FaultFinding) -> tuple[str, ...]:
    """Return the row of a fault that is there or not."""
    counted = finding.every
    return (
        finding.ladder.name,
        share_words(counted.share(End.FAIL)),
        percent_words(counted.share(End.VOID).ratio),
        cause_share(counted),
    )


def station_rows(finding: FaultFinding) -> Iterator[tuple[str, ...]]:
    """Yield a row for each severity of a fault of the station, on good units."""
    for rung in finding.rungs:
        counted = rung.tally
        yield (
            finding.ladder.name,
            severity_words(finding.ladder, rung.severity),
            str(counted.n),
            *(
                percent_words(counted.share(end).ratio)
                for end in (End.VOID, End.REFUSED, End.FAIL, End.PASS)
            ),
        )


def cause_share(counted: Tally) -> str:
    """Return what failed units first, as shares of those that failed."""
    return causes_words(counted.first_causes, sum(counted.first_causes.values()))


def missed_text(findings: Findings) -> str:
    """Return which faults nothing catches."""
    missed = missed_words(findings.faults)
    if not missed:
        return "Every fault, planted as gross as it was here, is found more often than not."
    return f"Caught by nothing, even as gross as it was planted here: {', '.join(missed)}."
