"""Every text of a gauge study's screens, as pure functions of what is to be said."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from station.analysis.statistics.meansquares import Interval
from station.errors import StationError
from station.judging.verdicts.verdict import Judgement
from station.judging.words.readingwords import reading_words
from station.judging.words.words import frequency_words
from station.quality.gauge.desk import Study
from station.quality.gauge.findings import CurveFinding, GaugeFindings, NumberFinding
from station.quality.gauge.study import GaugeStudy
from station.quality.gauge.words import (
    categories,
    ordinal,
    percent_ends,
    percent_of,
    spread,
    spread_ends,
)
from station.records.kept.gauge import GaugeStep

LIST_TITLE = "Gauge studies: how much of what readings vary comes from measuring"
LIST_KEYS = "↑↓ choose   Enter go on, or its findings   a plan a new one   Esc back"
NO_STUDIES = "No study was planned yet. Press a to plan one."
PLAN_TITLE = "A new gauge study"
PLAN_ASKED = (
    "Units, serial numbers between commas (ten are usual)",
    "Operators, names between commas (three are usual)",
    "Repeats (three are usual)",
    "Planned by",
    "What it is for",
)
GUIDE_KEYS = "scan what is asked for   Esc stop the measurement, or go back: the study waits"
SIMULATED_KEYS = "F5 types what is due   "
HOLDING = "Taking the bench …"
SIMULATED = "SIMULATED"
MEASURING = "Measuring. Leave the unit alone."
COMPLETE = "The study is complete. Enter shows what it found."
STOP_FIRST = "Stopping the measurement first."
FINDINGS_KEYS = "↑↓ PgUp PgDn scroll   Esc back"
COMPUTING = "Computing …"
DONE, DUE, LEFT = "●", "◆", "○"
BAR_CELLS = 40
UNIT_CELLS = 16


def study_line(study: Study) -> str:
    """Return one study of the list."""
    plan = study.plan
    done = "complete" if not study.left else f"{study.done} of {len(plan.steps)}"
    size = f"{len(plan.serials)} units, {len(plan.operators)} operators, {plan.repeats} repeats"
    return f"{plan.study_id:<4} {plan.model:<10} {size}   {done}   {plan.title}".rstrip()


def guide_title(study: Study) -> str:
    """Return which study is guided."""
    plan = study.plan
    return "  ".join(
        part for part in (f"Gauge study {plan.study_id}", plan.model, plan.title) if part
    )


def progress_line(study: Study) -> str:
    """Return how far a study is."""
    total = len(study.plan.steps)
    full = round(BAR_CELLS * study.done / total)
    return f"{'█' * full}{'░' * (BAR_CELLS - full)}  {study.done} of {total} measured"


def due_lines(step: GaugeStep, total: int, *, greeted: bool) -> str:
    """Return who is to do what now."""
    if not greeted:
        return (
            f"Step {step.number} of {total}: it is the turn of {step.operator}.\n"
            f"{step.operator}, scan your badge. Without badges, type your name."
        )
    again = "" if step.repeat == 1 else f", for the {ordinal(step.repeat)} time"
    return (
        f"Step {step.number} of {total}: {step.operator} puts in {step.serial}{again}.\n"
        f"Even if it lies in the fixture: take it out and put it in anew. Then scan it."
    )


def grid_lines(study: Study) -> str:
    """Return units by operators: what was measured, what is due, what is left."""
    plan, due = study.plan, study.next_step
    left = {(step.serial, step.operator, step.repeat) for step in study.left}
    cells = max(plan.repeats, *(len(name) for name in plan.operators)) + 2
    lines = [f"{'':<{UNIT_CELLS}}" + "".join(f"{name:<{cells}}" for name in plan.operators)]
    for serial in plan.serials:
        marks = []
        for operator in plan.operators:
            signs = [
                (LEFT if (serial, operator, repeat) in left else DONE)
                for repeat in range(1, plan.repeats + 1)
            ]
            if due is not None and (due.serial, due.operator) == (serial, operator):
                signs[due.repeat - 1] = DUE
            marks.append(f"{''.join(signs):<{cells}}")
        lines.append(f"{serial:<{UNIT_CELLS}}" + "".join(marks))
    return "\n".join(line.rstrip() for line in lines)


def wrong_unit(scanned: str, step: GaugeStep) -> str:
    """Return that another unit is due."""
    return f"That is {scanned}; {step.serial} is due. Nothing was measured."


def measured_line(step: GaugeStep) -> str:
    """Return that a step is done."""
    return f"Measured: {step.serial} by {step.operator}. Take it out."


def void_line(judgement: Judgement) -> str:
    """Return that a measurement cannot be trusted, and stays to be done."""
    return (
        f"VOID: {judgement.causes[0].happened} {judgement.next_step} The step is still to be done."
    )


def error_line(error: StationError) -> str:
    """Return what happened and what to do."""
    return f"{error.happened} {error.remedy}"


def findings_title(findings: GaugeFindings) -> str:
    """Return what was studied."""
    plan = findings.plan
    return (
        f"Gauge study {plan.study_id}, {plan.model}: {len(plan.serials)} units, "
        f"{len(plan.operators)} operators, {plan.repeats} repeats"
    )


def findings_lines(findings: GaugeFindings) -> str:
    """Return for every number and curve how much of the spread is the gauge's."""
    lines = [
        "%GRR: share of the spread; ndc: groups told apart; with 95 % intervals.",
        "",
    ]
    for number in findings.numbers:
        lines += number_lines(number)
    for curve in findings.curves:
        lines += curve_lines(curve)
    lines += [f"Left out: {name}, because {why}." for name, why in findings.left_out.items()]
    return "\n".join(lines)


def number_lines(one: NumberFinding) -> Iterator[str]:
    """Yield three lines on a number, each short enough for the narrowest screen."""
    study, unit = one.study, "" if one.unit == "ratio" else f" {one.unit}"
    yield (
        f"{reading_words(one.reading)}: gauge {spread(study.gauge)}{unit} "
        f"({spread_ends(study.gauge)})"
    )
    tolerance = study.tolerance_share(np.array([one.width]))
    yield from share_lines(study, tolerance, 0, one_sided=math.isinf(one.width))


def curve_lines(one: CurveFinding) -> Iterator[str]:
    """Yield three lines on a curve, at the frequency where the gauge is worst for the tolerance."""
    study = one.study
    tolerance = study.tolerance_share(one.width)
    finite = np.isfinite(one.width)
    measure = np.where(finite, tolerance.estimate, -1.0) if finite.any() else study.gauge.estimate
    worst = int(np.argmax(measure))
    gauge = float(np.sqrt(study.gauge.estimate[worst]))
    at = frequency_words(float(one.frequency_hz[worst]))
    yield (f"{reading_words(one.reading)}, worst at {at}: gauge {gauge:.2g} {one.unit}")
    yield from share_lines(study, tolerance, worst, one_sided=math.isinf(one.width[worst]))


def share_lines(
    study: GaugeStudy, tolerance: Interval, at: int, *, one_sided: bool
) -> Iterator[str]:
    """Yield %GRR of the spread and of the tolerance, and ndc, with their intervals."""
    share, groups = picked(study.study_share, at), picked(study.distinct_categories, at)
    of_tolerance = picked(tolerance, at)
    words = f"{percent_of(of_tolerance)} ({percent_ends(of_tolerance)})"
    ends = " to ".join(categories(float(end[0])) for end in (groups.lower, groups.upper))
    yield (
        f"    %GRR {percent_of(share)} ({percent_ends(share)}), "
        f"ndc {categories(float(groups.estimate[0]))} ({ends})"
    )
    yield f"    of the tolerance {'none: it is one-sided' if one_sided else words}"


def picked(interval: Interval, at: int) -> Interval:
    """Return an interval of one of several quantities."""
    return Interval(
        interval.estimate[at : at + 1], interval.lower[at : at + 1], interval.upper[at : at + 1]
    )
