"""A gauge study as one page that needs nothing but itself."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

import numpy as np

from station.analysis.arrays import FloatArray
from station.drawing.page import cards, page, table
from station.drawing.plot import Plot, plot
from station.drawing.strokes import box, picture, words
from station.judging.words.readingwords import reading_words
from station.quality.gauge.findings import CurveFinding, GaugeFindings, NumberFinding
from station.quality.gauge.words import (
    NUMBER_HEADERS,
    number_rows,
    percent,
    uncertainty_tables,
)

WIDTH, HEIGHT = 900.0, 250.0
ROW, BAR_LEFT = 26.0, 210.0
METHOD = (
    "Analysis of variance of a crossed study with interaction (Burdick, Borror and Montgomery "
    "2003); the interaction of a number is pooled with the repeats where its p is above 0.25. "
    "Intervals hold 95 % (modified large-sample). Groups told apart: √2 · σ(units) / σ(gauge). "
    "Shares of the tolerance are of six standard deviations."
)


def gauge_page(findings: GaugeFindings) -> str:
    """Return the page."""
    plan = findings.plan
    title = f"Gauge study {plan.study_id}: {plan.model}"
    where = "simulated; " if plan.simulated else ""
    facts = (
        f"{where}planned {plan.planned_utc:%Y-%m-%d %H:%M} UTC by {plan.planned_by}; "
        f"{plan.title or 'no title'}; units {', '.join(plan.serials)}; "
        f"operators {', '.join(plan.operators)}; {plan.repeats} repeats"
    )
    parts = [
        f'<h1>{escape(title)}</h1><p class="facts">{escape(facts)}</p>',
        cards(headline(findings)),
        "<h2>Numbers</h2>",
        share_picture(findings.numbers),
        table(NUMBER_HEADERS, number_rows(findings)),
        *curve_parts(findings.curves),
        f"<h2>How it was found out</h2><p>{escape(METHOD)}</p>",
        "<h2>For a decision rule</h2>"
        f'<pre style="white-space:pre-wrap">{escape(uncertainty_tables(findings))}</pre>',
    ]
    return page(title, parts)


def headline(findings: GaugeFindings) -> Iterator[tuple[str, str, str]]:
    """Yield the figures to remember: the least capable number and curve."""
    shares = [
        (float(one.study.tolerance_share(np.array([one.width])).estimate[0]), one.reading)
        for one in findings.numbers
        if np.isfinite(one.width)
    ]
    if shares:
        share, reading = max(shares)
        yield percent(share), "of a tolerance, at most", f"number: {reading_words(reading)}"
    for one in findings.curves:
        share_of = one.study.tolerance_share(one.width).estimate
        if np.isfinite(one.width).any():
            worst = int(np.nanargmax(np.where(np.isfinite(one.width), share_of, np.nan)))
            behind = f"{reading_words(one.reading)} at {one.frequency_hz[worst]:.0f} Hz"
            yield percent(float(share_of[worst])), "of a band, at most", behind
            return


def share_picture(numbers: Sequence[NumberFinding]) -> str:
    """Return one bar per number: what of its spread is repeating, operators, units."""
    height = ROW * len(numbers) + 30.0
    parts = [
        words(
            BAR_LEFT,
            14.0,
            "share of the variance; black: one operator, grey: between operators, pale: units",
        )
    ]
    for row, one in enumerate(numbers):
        top = 24.0 + ROW * row
        parts.append(words(BAR_LEFT - 8.0, top + 13.0, reading_words(one.reading), "end"))
        variances = [
            float(found.estimate[0])
            for found in (one.study.repeatability, one.study.reproducibility, one.study.part)
        ]
        left = BAR_LEFT
        for variance, fill in zip(variances, ("#111", "#999", "#e6e6e6"), strict=True):
            wide = (WIDTH - BAR_LEFT - 10.0) * variance / sum(variances)
            parts.append(box(left, top, wide, 18.0, fill))
            left += wide
    return picture(WIDTH, height, "Where the variance of each number comes from", parts)


def curve_parts(curves: Sequence[CurveFinding]) -> Iterator[str]:
    """Yield a chart for every curve."""
    if curves:
        yield "<h2>Curves</h2>"
    for one in curves:
        yield f"<h3>{escape(reading_words(one.reading))}</h3>{curve_picture(one)}"


def curve_picture(one: CurveFinding) -> str:
    """Return the standard deviation of the gauge with its interval, and of the units, dashed."""
    gauge, low, high = (
        np.sqrt(end)
        for end in (one.study.gauge.estimate, one.study.gauge.lower, one.study.gauge.upper)
    )
    units = np.sqrt(one.study.part.estimate)
    roof = 1.15 * float(max(np.quantile(high, 0.9), gauge.max(), np.quantile(units, 0.9)))
    on = frame(one.frequency_hz, roof)
    parts = [
        *on.band(list(one.frequency_hz), list(low), list(np.minimum(high, roof))),
        on.frame("Hz", f"standard deviation in {one.unit}; solid: gauge with 95 %, dashed: units"),
        *on.line(one.frequency_hz, gauge),
        *on.line(one.frequency_hz, units, dash="6 3"),
    ]
    return picture(WIDTH, HEIGHT, f"Spread of {one.reading} over frequency", parts)


def frame(frequency_hz: FloatArray, roof: float) -> Plot:
    """Return a plot over log frequency from zero."""
    span = float(frequency_hz[0]), float(frequency_hz[-1])
    return plot(WIDTH, HEIGHT, span, (0.0, roof), logarithmic=True)
