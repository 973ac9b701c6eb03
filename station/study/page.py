"""A study as one page that needs nothing but itself, for the screen and for paper."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from html import escape
from itertools import groupby

from station.drawing.page import cards, page, table, unbroken
from station.study.curvechart import curve_chart
from station.study.findings import FaultFinding, Findings, GoodFinding
from station.study.jobs import StudyPlan
from station.study.outcome import End
from station.study.rangechart import range_chart
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

UNIT_TITLES = {
    "ratio": "Faults whose severity is a share",
    "dB SPL": "Faults that make a noise: its peak at 1 m in dB SPL",
    "dB": "Faults whose severity is a level difference in dB",
}
LIGHTEST, DARKEST = 250, 165  # of 255: black words stay readable on either
METHOD = (
    "Every unit is simulated, with its own spread of parts, in the noise of a factory (steady "
    "45 dB SPL; a bang of 75 to 95 dB SPL peak in one first sweep of twenty) and at the "
    "temperatures of its hall (18.5 to 22.5 °C), and tested by the "
    "line's own rule of repeats. At every severity there are fresh units. Shares have exact "
    "intervals (Clopper and Pearson). Curves are cumulative normal in the severity, or in its "
    "logarithm for shares, fitted by maximum likelihood above the share of good units that fail; "
    "intervals of thresholds by profile likelihood. No curve is drawn steeper than one rung. All "
    "intervals hold 95 %. Faults of the station are put under good units, without bangs."
)


def study_page(header: Header, plan: StudyPlan, findings: Findings) -> str:
    """Return the page."""
    title = f"Detection power: {header.model} revision {header.revision}"
    parts = [
        f"<h1>{escape(title)}</h1>",
        facts(header, plan),
        headline(findings),
        *overview(findings.faults),
        *curves(findings.faults),
        absolute_table(findings.faults),
        causes_table(findings.faults),
        good_table(findings.good),
        station_table(findings.station),
        f"<h2>How it was found out</h2><p>{escape(METHOD)}</p>",
        f"<p>{escape(speed_words(findings.speed))}</p>",
    ]
    return page(title, parts)


def facts(header: Header, plan: StudyPlan) -> str:
    """Return what was studied."""
    versions = ", ".join(f"{name} {number}" for name, number in header.versions.items())
    return (
        f'<p class="facts">{escape(header.limits_name)}, SHA-256 {header.limits_sha256[:16]}…; '
        f"{plan.good_units} good units and {plan.units_per_rung} at each severity; "
        f"seed {plan.seed}; {escape(versions)}</p>"
    )


def headline(findings: Findings) -> str:
    """Return the figures to remember."""
    good = findings.good
    missed = missed_words(findings.faults)
    figures = (
        ("Good units rejected", good.every.share(End.FAIL)),
        ("Good units void in the end", good.every.share(End.VOID)),
        ("Good units swept again", good.repeated),
    )
    shown = [(percent_words(share.ratio), name, share_words(share)) for name, share in figures]
    caught = ", ".join(missed) or "as gross as they were planted"
    shown.append((f"{len(missed)} of {len(findings.faults)}", "Faults caught by nothing", caught))
    return cards(shown)


def overview(faults: Sequence[FaultFinding]) -> Iterator[str]:
    """Yield one chart for each unit of severity."""
    graded = [finding for finding in faults if finding.ladder.graded]
    if graded:
        yield "<h2>How severe a fault must be to be found</h2>"
    for unit in dict.fromkeys(finding.ladder.fault.unit for finding in graded):
        alike = [finding for finding in graded if finding.ladder.fault.unit == unit]
        yield f"<h3>{escape(UNIT_TITLES.get(unit, unit))}</h3>{range_chart(alike)}"


def curves(faults: Sequence[FaultFinding]) -> Iterator[str]:
    """Yield a chart with its words for each fault."""
    graded = [finding for finding in faults if finding.ladder.graded]
    if not graded:
        return
    yield '<h2>Curves</h2><div class="grid">'
    for name, sides in groupby(graded, key=lambda finding: finding.ladder.fault.name):
        yield f"<section><h3>{escape(name)}</h3>{panel(list(sides))}</section>"
    yield "</div>"


def panel(sides: Sequence[FaultFinding]) -> str:
    """Return the chart of a fault, its thresholds, and what catches it at which severity."""
    return curve_chart(sides) + "".join(side_words(side) for side in sides)


def side_words(finding: FaultFinding) -> str:
    """Return the words under a chart for one side of a fault."""
    assert finding.curve is not None
    rows = [
        (f"{100.0 * threshold.probability:.0f} %", threshold_words(finding, threshold))
        for threshold in finding.curve.thresholds
    ]
    every = finding.every
    rows.append(("first", causes_words(every.first_causes, sum(every.first_causes.values()))))
    if void := every.ends.get(End.VOID, 0):
        rows.append(("void", f"{void} of {every.n}: {causes_words(every.void_causes, void)}"))
    if doubt := doubt_words(finding):
        rows.append(("note", doubt))
    listed = "".join(f"<dt>{unbroken(term)}</dt><dd>{unbroken(words)}</dd>" for term, words in rows)
    head = f"<h4>{escape(finding.ladder.name)}</h4>"
    details = f"<details><summary>every severity</summary>{rungs(finding)}</details>"
    return f"{head}<dl>{listed}</dl>{details}"


def rungs(finding: FaultFinding) -> str:
    """Return the counts of every rung."""
    rows = [
        (
            severity_words(finding.ladder, rung.severity),
            share_words(rung.tally.share(End.FAIL)),
            percent_words(rung.tally.share(End.VOID).ratio),
            causes_words(rung.tally.first_causes, rung.tally.n),
        )
        for rung in finding.rungs
    ]
    return table(("severity", "found", "void", "by (share of all)"), rows)


def absolute_table(faults: Sequence[FaultFinding]) -> str:
    """Return the faults that are there or not."""
    rows = [
        (
            finding.ladder.name,
            finding.ladder.fault.meaning,
            share_words(finding.every.share(End.FAIL)),
            percent_words(finding.every.share(End.VOID).ratio),
            causes_words(finding.every.first_causes, sum(finding.every.first_causes.values())),
            next(iter(finding.every.told), ""),
        )
        for finding in faults
        if not finding.ladder.graded
    ]
    if not rows:
        return ""
    head = ("fault", "meaning", "found", "void", "first cause", "most often told")
    return f"<h2>Faults that are there or not</h2>{table(head, rows)}"


def causes_table(faults: Sequence[FaultFinding]) -> str:
    """Return which reading catches what: the darker, the more often it is the first cause."""
    totals: Counter[str] = Counter()
    for finding in faults:
        totals.update(finding.every.first_causes)
    if not totals:
        return ""
    readings = [name for name, _ in totals.most_common()]
    head = "".join(f"<th>{escape(name)}</th>" for name in ("fault", *readings))
    body = "".join(
        f"<tr><td>{escape(finding.ladder.name)}</td>"
        + "".join(shaded(finding.every.first_causes, name) for name in readings)
        + "</tr>"
        for finding in faults
    )
    return (
        "<h2>What catches what</h2><p>Share of the units found, at any severity, whose first "
        "cause is the reading: the one furthest outside its limits.</p>"
        f'<table class="matrix"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>'
    )


def shaded(first_causes: Mapping[str, int], name: str) -> str:
    """Return the cell of a share, grey by how large it is."""
    if name not in first_causes:
        return "<td></td>"
    share = first_causes[name] / sum(first_causes.values())
    grey = round(LIGHTEST - (LIGHTEST - DARKEST) * share)
    return f'<td style="background:rgb({grey},{grey},{grey})">{100.0 * share:.0f} %</td>'


def good_table(good: GoodFinding) -> str:
    """Return what became of good units."""
    rows = [
        (
            name,
            share_words(counted.share(End.FAIL)),
            share_words(counted.share(End.VOID)),
            causes_words(counted.first_causes, sum(counted.first_causes.values())),
        )
        for name, counted in (
            ("all", good.every),
            ("a bang in the first sweep", good.with_bang),
            ("no bang", good.without_bang),
        )
    ]
    head = ("good units", "rejected", "void in the end", "rejected by")
    return f"<h2>Good units</h2>{table(head, rows)}"


def station_table(station: Sequence[FaultFinding]) -> str:
    """Return what faults of the station do to good units."""
    rows = [
        (
            finding.ladder.name,
            severity_words(finding.ladder, rung.severity),
            *(
                share_words(rung.tally.share(end))
                for end in (End.VOID, End.REFUSED, End.FAIL, End.PASS)
            ),
            next(iter(rung.tally.told), ""),
        )
        for finding in station
        for rung in finding.rungs
    ]
    if not rows:
        return ""
    head = (
        "fault",
        "severity",
        "void",
        "refused",
        "blamed on the unit",
        "passed",
        "told if blamed",
    )
    return f"<h2>Faults of the station, under good units</h2>{table(head, rows)}"
