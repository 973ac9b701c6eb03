"""A span of production as one page: yields, causes, capability, charts and the alarm."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from html import escape
from itertools import pairwise

import numpy as np

from station.drawing.page import cards, page, table
from station.drawing.plot import plot, roomy
from station.drawing.strokes import INK, box, mark, picture, stroke, words
from station.judging.words.readingwords import reading_words
from station.quality.statistics.charts import Chart
from station.quality.statistics.runrules import BEYOND, RULES, Rule, signals
from station.quality.watching.causes import CauseRow
from station.quality.watching.curvecapability import OctaveCapability
from station.quality.watching.leftout import left_out_sentence
from station.quality.watching.numbers import Charts
from station.quality.watching.productionrisk import production_risks
from station.quality.watching.watched import Watched
from station.quality.watching.words import (
    CAPABILITY_HEADERS,
    CAUSE_HEADERS,
    CURVE_HEADERS,
    RISK_HEADERS,
    YIELD_HEADERS,
    alarm_sentences,
    capability_table,
    cause_table,
    curve_table,
    percent,
    risk_table,
    share_words,
    worst_sentence,
    yield_table,
)
from station.quality.watching.yields import Period, yield_rows

WIDTH, CHART_HEIGHT = 440.0, 190.0
RUNS = tuple(rule for rule in RULES if rule is not BEYOND)  # points outside are marked as such
BAR, LABELS = 24.0, 200.0
METHOD = (
    "A unit counts where it was first tested; what decides is its first scan that was not void. "
    "Shares have exact intervals (Clopper and Pearson). Cp and Cpk stand on the spread within "
    "subgroups, Pp and Ppk on the whole; where a reading is hardly normal, on percentiles. Along a "
    "curve each octave stands for its least capable frequency, whose interval does not know that "
    "it was chosen as the worst. Limits of charts come from the good units of the baseline, three "
    "sigma, or 2.962 for weighted means (weight 0.2); points outside are squares. On single units "
    "and means a diamond ends a run that "
    "the Western Electric rules call too regular for chance. An alarm needs more: where nothing "
    "moved, any alarm at all comes in one span of a hundred. Intervals of drift hold 99 %."
)


def watch_page(watched: Watched, octaves: Sequence[OctaveCapability], span: str) -> str:
    """Return the page; `span` says of when it is."""
    title = "Production watched"
    counted = f"{span}; {len(watched.units)} units, {watched.run_count} runs"
    facts = " ".join([f"{counted}.", left_out_sentence(watched.left_out)]).strip()
    parts = [
        f'<h1>{escape(title)}</h1><p class="facts">{escape(facts)}</p>',
        "".join(f"<p><b>{escape(one)}</b></p>" for one in alarm_sentences(watched)),
        cards(headline(watched)),
        *yield_parts(watched),
        *cause_parts(watched.causes),
        *capability_parts(watched),
        *curve_parts(octaves),
        *chart_parts(watched.charts),
        f"<h2>How it is counted</h2><p>{escape(METHOD)}</p>",
    ]
    return page(title, parts)


def headline(watched: Watched) -> Iterator[tuple[str, str, str]]:
    """Yield the yield of each model."""
    for row in yield_rows(watched.units, Period.MODEL)[:4]:
        yield percent(row.first_pass.ratio), f"{row.name} at once", share_words(row.first_pass)


def yield_parts(watched: Watched) -> Iterator[str]:
    """Yield the tables by model and by day."""
    yield "<h2>Yield</h2>"
    for name, period in (("by model", Period.MODEL), ("by day", Period.DAY)):
        rows = yield_table(yield_rows(watched.units, period))
        yield f"<h3>{name}</h3>{table(YIELD_HEADERS, rows)}"


def cause_parts(causes: Sequence[CauseRow]) -> Iterator[str]:
    """Yield the causes as bars with their running share."""
    yield "<h2>What units fail by</h2>"
    if not causes:
        yield "<p>No unit failed.</p>"
        return
    yield cause_picture(causes)
    yield table(CAUSE_HEADERS, cause_table(causes))


def cause_picture(causes: Sequence[CauseRow]) -> str:
    """Return one bar per cause, the most frequent on top, and the share so far as a line."""
    shown, wide = causes[:12], 900.0
    height = BAR * len(shown) + 34.0
    scale = (wide - LABELS - 70.0) / shown[0].units
    parts = [words(LABELS, 14.0, "bars: units; line: share of all failed units so far")]
    line = []
    for row, one in enumerate(shown):
        top = 24.0 + BAR * row
        parts += [
            words(LABELS - 8.0, top + 14.0, f"{reading_words(one.reading)}, {one.side}", "end"),
            box(LABELS, top, one.units * scale, BAR - 6.0, "#999"),
            words(LABELS + one.units * scale + 6.0, top + 14.0, str(one.units)),
        ]
        line.append((LABELS + one.so_far * (wide - LABELS - 70.0), top + 0.5 * BAR - 3.0))
    parts += [stroke(*one, *other) for one, other in pairwise(line)]
    parts += [mark(x, y, "circle", filled=False) for x, y in line]
    return picture(wide, height, "Causes of failed units, the most frequent first", parts)


def capability_parts(watched: Watched) -> Iterator[str]:
    """Yield capability, and risks where limit files state uncertainties."""
    yield "<h2>Capability</h2>"
    yield table(CAPABILITY_HEADERS, capability_table(watched.series, watched.wanted.subgroup))
    risks = risk_table(production_risks(watched.series, watched.texts))
    if risks:
        yield f"<h2>Risk of wrong verdicts</h2>{table(RISK_HEADERS, risks)}"


def curve_parts(octaves: Sequence[OctaveCapability]) -> Iterator[str]:
    """Yield the capability along the judged curves."""
    if octaves:
        yield "<h2>Capability along curves</h2>"
        yield f"<p>{escape(worst_sentence(octaves))}</p>"
        yield table(CURVE_HEADERS, curve_table(octaves))


def chart_parts(every: Sequence[Charts]) -> Iterator[str]:
    """Yield the charts of every series, two side by side."""
    if every:
        yield "<h2>Charts</h2>"
    for charts in every:
        series = charts.series
        unit = "" if series.unit == "ratio" else f" in {series.unit}"
        name = f"{series.model}: {reading_words(series.reading)}{unit}"
        start = charts.baseline // charts.size
        pictures = (
            chart_picture(charts.individuals, "single units", charts.baseline, RUNS),
            chart_picture(charts.means, f"means of {charts.size}", start, RUNS),
            chart_picture(charts.ranges, f"ranges of {charts.size}", start),
            chart_picture(charts.weighted, "weighted means", start),
        )
        grid = f'<div class="grid">{"".join(pictures)}</div>'
        yield f"<section><h3>{escape(name)}</h3>{grid}</section>"


def chart_picture(chart: Chart, name: str, baseline: int, rules: Sequence[Rule] = ()) -> str:
    """Return points between their limits; what lies outside is a filled square.

    Where a run rule is broken stands an open diamond; weighted means and ranges have none, since
    their points depend on each other or are not symmetrical about the centre.
    """
    n = chart.points.size
    finite = [float(v) for part in (chart.points, chart.lower, chart.upper) for v in part]
    up = roomy(finite)
    on = plot(WIDTH, CHART_HEIGHT, (0.0, float(n) + 1.0), up)
    place = np.arange(1.0, n + 1.0)
    parts = [on.frame(f"{name}; baseline up to the upright line", "")]
    for limit in (chart.lower, chart.upper):
        parts += on.line(place, limit, dash="5 3", width=1.1)
    parts += on.line(place, chart.centre, width=0.8)
    parts += on.line(place, chart.points, width=0.9)
    across = on.x(min(baseline, n) + 0.5)
    parts.append(stroke(across, on.up.left, across, on.up.right, INK, 0.8))
    outside = np.flatnonzero((chart.points > chart.upper) | (chart.points < chart.lower))
    runs = sorted({signal.last for signal in signals(chart.beyond, rules)} - {*outside.tolist()})
    parts += [
        mark(on.x(float(place[i])), on.y(float(chart.points[i])), shape, filled=filled, radius=2.6)
        for shape, filled, marked in (("square", True, outside), ("diamond", False, runs))
        for i in marked
        if math.isfinite(chart.points[i])
    ]
    return picture(WIDTH, CHART_HEIGHT, f"Control chart of {name}", parts)
