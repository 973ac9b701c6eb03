"""A gauge study in the words of tables and sentences."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from station.analysis.statistics.meansquares import Interval
from station.judging.words.readingwords import reading_words
from station.judging.words.words import frequency_words
from station.quality.gauge.findings import CurveFinding, GaugeFindings, NumberFinding
from station.records.kept.gauge import GaugePlan, GaugeStep

NUMBER_HEADERS = (
    "reading", "one operator", "between operators", "gauge (95 %)", "between units",
    "of all spread", "of tolerance (95 %)", "groups told apart",
)  # fmt: skip
CURVE_HEADERS = ("curve", "octave", "gauge, largest", "at", "of tolerance", "groups told apart")
POINTS_PER_CURVE = 12  # breakpoints of an uncertainty, at most
ENDLESS = 99.0  # groups; more says nothing


def step_words(plan: GaugePlan, step: GaugeStep) -> str:
    """Return what is to be done next."""
    return (
        f"Step {step.number} of {len(plan.steps)}: {step.operator} measures {step.serial} "
        f"for the {ordinal(step.repeat)} time. Take it out and put it in anew first."
    )


def ordinal(count: int) -> str:
    """Return 1st, 2nd, 3rd and so on."""
    ending = "th" if 10 <= count % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(count % 10, "th")
    return f"{count}{ending}"


def number_rows(findings: GaugeFindings) -> list[tuple[str, ...]]:
    """Return a row for every number."""
    return [number_row(one) for one in findings.numbers]


def number_row(one: NumberFinding) -> tuple[str, ...]:
    """Return the row of a number: standard deviations in its unit, and shares."""
    study, unit = one.study, "" if one.unit == "ratio" else f" {one.unit}"
    share = study.tolerance_share(np.array([one.width]))
    return (
        reading_words(one.reading),
        f"{spread(study.repeatability)}{unit}",
        f"{spread(study.reproducibility)}{unit}",
        f"{spread(study.gauge)}{unit} ({spread_ends(study.gauge)})",
        f"{spread(study.part)}{unit}",
        percent(float(study.study_share.estimate[0])),
        "one-sided" if math.isinf(one.width) else f"{percent_of(share)} ({percent_ends(share)})",
        categories(float(study.distinct_categories.estimate[0])),
    )


def curve_rows(findings: GaugeFindings) -> list[tuple[str, ...]]:
    """Return a row for every octave of every curve, at its least certain frequency."""
    return [row for one in findings.curves for row in octave_rows(one)]


def octave_rows(one: CurveFinding) -> Iterator[tuple[str, ...]]:
    """Yield a row for every octave of a curve."""
    gauge = np.sqrt(one.study.gauge.estimate)
    share = one.study.tolerance_share(one.width).estimate
    groups = one.study.distinct_categories.estimate
    octave = np.floor(np.log2(one.frequency_hz / 1000.0) + 0.5)
    for number in np.unique(octave):
        inside = np.flatnonzero(octave == number)
        worst = int(inside[np.argmax(gauge[inside])])
        yield (
            reading_words(one.reading),
            frequency_words(1000.0 * 2.0 ** float(number)),
            f"{gauge[worst]:.2g} {one.unit}",
            frequency_words(float(one.frequency_hz[worst])),
            "one-sided" if math.isinf(one.width[worst]) else percent(float(share[worst])),
            categories(float(np.min(groups[inside]))),
        )


def uncertainty_tables(findings: GaugeFindings) -> str:
    """Return the tables of a `[decision]` that this study stands for, ready for a limit file."""
    parts = []
    for one in findings.numbers:
        standard = float(one.study.standard_uncertainty[0])
        parts.append(f'reading = "{one.reading}"\nstandard = {standard:.3g}')
    for curve in findings.curves:
        points = ", ".join(f"[{hz:.5g}, {u:.3g}]" for hz, u in uncertainty_points(curve))
        parts.append(f'reading = "{curve.reading}"\npoints = [{points}]')
    return "\n\n".join(f"[[decision.uncertainties]]\n{part}" for part in parts)


def uncertainty_points(one: CurveFinding) -> list[tuple[float, float]]:
    """Return breakpoints that lie on or above a curve's uncertainty at each of its frequencies."""
    standard = one.study.standard_uncertainty
    edges = np.linspace(0, standard.size - 1, min(POINTS_PER_CURVE, standard.size)).astype(int)
    tops = [
        float(np.max(standard[edges[max(i - 1, 0)] : edges[min(i + 1, edges.size - 1)] + 1]))
        for i in range(edges.size)
    ]
    return [(float(one.frequency_hz[edge]), top) for edge, top in zip(edges, tops, strict=True)]


def spread(variance: Interval) -> str:
    """Return a standard deviation."""
    return f"{math.sqrt(float(variance.estimate[0])):.2g}"


def spread_ends(variance: Interval) -> str:
    """Return the interval of a standard deviation."""
    return f"{math.sqrt(float(variance.lower[0])):.2g} to {math.sqrt(float(variance.upper[0])):.2g}"


def percent(ratio: float) -> str:
    """Return a share."""
    return f"{100.0 * ratio:.2g} %" if ratio < 0.1 else f"{100.0 * ratio:.0f} %"


def percent_of(share: Interval) -> str:
    """Return the estimate of a share."""
    return percent(float(share.estimate[0]))


def percent_ends(share: Interval) -> str:
    """Return the interval of a share."""
    return f"{percent(float(share.lower[0]))} to {percent(float(share.upper[0]))}"


def categories(groups: float) -> str:
    """Return how many groups can be told apart; less than one is none."""
    return f"over {ENDLESS:.0f}" if groups > ENDLESS else f"{math.floor(groups)}"
