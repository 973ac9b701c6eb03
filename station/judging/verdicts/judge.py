"""From readings and a limit file to a verdict, its causes in order, and the next step."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from station.analysis.measure import Measured
from station.analysis.plan import Reference
from station.analysis.readings import Number, Readings
from station.judging.files.planning import reference_of_table
from station.judging.tables.acceptance import accepted_limits, crossing_of, standard_uncertainty
from station.judging.tables.tables import BandTable, LimitFile, NumberTable
from station.judging.verdicts.advice import Failing, advice_on, fitting_advice
from station.judging.verdicts.bands import BandResult, band_result, judged_points
from station.judging.verdicts.risks import with_decision
from station.judging.verdicts.signaltonoise import (
    Drowned,
    drowned_number,
    needed_by,
    without_drowned,
)
from station.judging.verdicts.verdict import AppliedBand, Cause, Judgement, Margin, Verdict
from station.judging.verdicts.voids import void_cause
from station.judging.words.words import frequency_words, quantity_words

RELEASE = "Release the unit to packing."
MISTAKEN = "What was heard and measured is not this model, or it is not connected."
REWORK = "Set the unit aside for rework."
UNHEARD = (
    "The noise before the sweep could not be heard.",
    "Test the unit again; if it happens again, call the technician.",
)
UNSURE = "Test the unit again; if it happens again, call the technician."


@dataclass(frozen=True, slots=True, eq=False)
class Finding:
    """One limit applied: its margin, its cause if it fails, and where it fails."""

    reading: str
    margin: Margin | None  # None where there is no value to measure it by
    causes: tuple[Cause, ...]
    failing: Failing | None
    band: AppliedBand | None = None
    drowned: Drowned | None = None


def judge(measured: Measured, limits: LimitFile, not_the_units: Collection[str] = ()) -> Judgement:
    """Return the verdict on a measured run.

    A fault of the recording, or a judged reading that is missing or not finite, makes it void;
    otherwise any reading outside its limits makes it fail, where it stands above the noise;
    otherwise a limit about which noise leaves nothing to say makes it void; otherwise it passes.
    A number whose limit says that its absence is the unit's fault fails when a trusted recording
    lacks it. With a decision rule the limits are the acceptance limits. Causes in `not_the_units`,
    by reading, do not count: something else made them.
    """
    accepted = accepted_limits(limits, measured.readings.numbers)
    return with_decision(judged_by(measured, accepted, not_the_units), limits, measured.readings)


def judged_by(measured: Measured, limits: LimitFile, not_the_units: Collection[str]) -> Judgement:
    """Return the verdict by the limits as they stand, acceptance limits already."""
    if measured.integrity:
        causes = tuple(void_cause(fault) for fault in measured.integrity)
        return Judgement(Verdict.VOID, causes, causes[0].advice)
    missing = tuple(missing_causes(measured.readings, limits))
    if missing:
        return Judgement(Verdict.VOID, missing, missing[0].advice)
    findings = tuple(
        without_causes(found, not_the_units) for found in applied_limits(measured.readings, limits)
    )
    margins = tightest_margins(findings)
    bands = {found.reading: found.band for found in findings if found.band is not None}
    failing = {found.reading: found.failing for found in findings if found.failing is not None}
    drowned = tuple(found.drowned.cause for found in findings if found.drowned is not None)
    if not failing and drowned:
        return Judgement(Verdict.VOID, drowned, drowned[0].advice, margins, bands)
    if not failing:
        return Judgement(Verdict.PASS, (), RELEASE, margins, bands)
    fitting = fitting_advice(limits.advice, failing)
    causes = tuple(
        replace(
            cause, advice=advice_on(cause.reading.removesuffix(".offset"), fitting) or cause.advice
        )
        for found in findings
        for cause in found.causes
    )
    ordered = tuple(sorted(causes, key=lambda cause: -cause.severity))
    if fitting and fitting[0].void:
        return Judgement(
            Verdict.VOID, (mistaken_cause(fitting[0].say),), fitting[0].say, margins, bands
        )
    next_step = fitting[0].say if fitting else f"{REWORK} {ordered[0].happened}"
    return Judgement(Verdict.FAIL, ordered, next_step, margins, bands)


def mistaken_cause(say: str) -> Cause:
    """Return why limits say nothing about what stands in the fixture."""
    return Cause("unit", "untrusted", math.nan, "", None, 0.0, MISTAKEN, say)


def without_causes(found: Finding, not_the_units: Collection[str]) -> Finding:
    """Return a finding without those causes that something else than the unit made."""
    causes = tuple(cause for cause in found.causes if cause.reading not in not_the_units)
    return replace(found, causes=causes, failing=found.failing if causes else None)


def missing_causes(readings: Readings, limits: LimitFile) -> Iterator[Cause]:
    """Yield a cause for each judged reading that is missing or not finite."""
    judged: list[BandTable | NumberTable] = [*limits.bands, *limits.numbers]
    for limit in judged:
        if not is_there(readings, limit) and not absence_fails(readings, limit):
            happened, remedy = readings.missing.get(
                limit.reading,
                (
                    f"The reading {limit.reading} could not be computed.",
                    "Test the unit again; if it happens again, call the technician.",
                ),
            )
            yield Cause(limit.reading, "missing", math.nan, "", None, 0.0, happened, remedy)
        elif (noise := unheard_noise(readings, limit, limits)) is not None:
            yield Cause(limit.reading, "missing", math.nan, "", None, 0.0, *noise)
        elif (doubt := undecidable(limit, limits, readings)) is not None:
            yield Cause(limit.reading, "missing", math.nan, "", None, 0.0, *doubt)


def unheard_noise(
    readings: Readings, limit: BandTable | NumberTable, limits: LimitFile
) -> tuple[str, str] | None:
    """Return why the noise is not known that a judged reading must stand above, or None."""
    needed = needed_by(limit.reading, limits.readings)
    if needed is None or needed.noise in readings.curves or needed.noise in readings.numbers:
        return None
    return readings.missing.get(needed.noise, UNHEARD)


def undecidable(
    limit: BandTable | NumberTable, limits: LimitFile, readings: Readings
) -> tuple[str, str] | None:
    """Return why a number's own uncertainty lets nobody decide about it, or None."""
    tables = () if limits.decision is None else limits.decision.uncertainties
    table = next((each for each in tables if each.reading == limit.reading), None)
    if table is None or not table.of_run or limit.reading not in readings.numbers:
        return None
    if not math.isfinite(standard_uncertainty(table, readings.numbers)):
        return f"The recording states no uncertainty of {limit.reading}.", UNSURE
    if crossing_of(limit) is not None:
        return f"{limit.reading} is too uncertain for its limits in this recording.", UNSURE
    return None


def absence_fails(readings: Readings, limit: BandTable | NumberTable) -> bool:
    """Return whether a reading could not be computed and its limit calls that the unit's fault."""
    return (
        isinstance(limit, NumberTable)
        and limit.absent == "fail"
        and limit.reading in readings.missing
    )


def is_there(readings: Readings, limit: BandTable | NumberTable) -> bool:
    """Return whether a limit's reading exists and is finite wherever it is judged."""
    if isinstance(limit, NumberTable):
        number = readings.numbers.get(limit.reading)
        return number is not None and math.isfinite(number.value)
    curve = readings.curves.get(limit.reading)
    if curve is None:
        return False
    inside = judged_points(curve, limit)
    return bool(inside.any() and np.isfinite(curve.values[inside]).all())


def applied_limits(readings: Readings, limits: LimitFile) -> Iterator[Finding]:
    """Yield each limit of the file applied to its reading, all of which are there."""
    reference = reference_of_table(limits.reference) if limits.reference else None
    for band in limits.bands:
        yield band_finding(readings, band, reference, limits)
    for limit in limits.numbers:
        if absence_fails(readings, limit):
            yield absence_finding(limit, *readings.missing[limit.reading])
            continue
        found = number_finding(limit, readings.numbers[limit.reading])
        drowned = drowned_number(limit, readings.numbers[limit.reading], readings, limits)
        if drowned is not None:
            found = replace(found, causes=(), failing=None, drowned=drowned)
        yield found


def band_finding(
    readings: Readings, band: BandTable, reference: Reference | None, limits: LimitFile
) -> Finding:
    """Return a band applied to its curve."""
    for_v = limits.readings.response.for_v
    result = band_result(readings.curves[band.reading], band, reference, for_v)
    drowned = None
    if (needed := needed_by(band.reading, limits.readings)) is not None:
        noise = readings.curves[needed.noise]
        result, drowned = without_drowned(result, band.reading, noise, band, needed.margin_db)
    causes = [*curve_causes(band, result)]
    if drowned is None:  # the mean offset is a mean over all points
        causes += offset_causes(band, result)
    failing = None
    if causes:
        failing = Failing(result.applied.frequency_hz, result.depth, result.below, result.above)
    return Finding(band.reading, result.margin, tuple(causes), failing, result.applied, drowned)


def curve_causes(band: BandTable, result: BandResult) -> Iterator[Cause]:
    """Yield the cause of a curve that leaves its band: the worst point."""
    if not (result.below | result.above).any():
        return
    margin = result.margin
    worst = int(np.argmax(result.depth))
    below = bool(result.below[worst])
    at_hz = float(result.applied.frequency_hz[worst])
    side = "below" if below else "above"
    happened = (
        f"{band.reading} is {quantity_words(-margin.value, margin.unit)} {side} its band "
        f"at {frequency_words(at_hz)}."
    )
    yield Cause(
        band.reading,
        "below" if below else "above",
        margin.value,
        margin.unit,
        at_hz,
        -margin.value / band.scale,
        happened,
    )


def offset_causes(band: BandTable, result: BandResult) -> Iterator[Cause]:
    """Yield the cause of a floating band whose level is further off than it may float."""
    if band.offset_db is None or abs(result.offset_db) <= band.offset_db:
        return
    below = result.offset_db < 0.0
    margin = band.offset_db - abs(result.offset_db)
    happened = (
        f"The level of {band.reading} is {quantity_words(abs(result.offset_db), 'dB')} "
        f"{'below' if below else 'above'} the reference unit's."
    )
    yield Cause(
        f"{band.reading}.offset",
        "below" if below else "above",
        margin,
        "dB",
        None,
        -margin / band.scale,
        happened,
    )


def number_finding(limit: NumberTable, number: Number) -> Finding:
    """Return a number's limits applied."""
    lower = -math.inf if limit.lower is None else limit.lower
    upper = math.inf if limit.upper is None else limit.upper
    margin = Margin(min(number.value - lower, upper - number.value), number.unit, None)
    if margin.value >= 0.0:
        return Finding(limit.reading, margin, (), None)
    below = number.value < lower
    bound = lower if below else upper
    happened = (
        f"{limit.reading} is {quantity_words(number.value, number.unit)}, "
        f"{'below' if below else 'above'} its limit of {quantity_words(bound, number.unit)}."
    )
    cause = Cause(
        limit.reading,
        "below" if below else "above",
        margin.value,
        number.unit,
        None,
        -margin.value / limit.scale,
        happened,
    )
    failing = Failing(
        np.array([math.nan]),
        np.array([-margin.value]),
        np.array([below]),
        np.array([not below]),
    )
    return Finding(limit.reading, margin, (cause,), failing)


def absence_finding(limit: NumberTable, happened: str, remedy: str) -> Finding:
    """Return the failure of a number that the unit does not have, one step of severity deep."""
    cause = Cause(limit.reading, "missing", math.nan, "", None, 1.0, happened, remedy)
    failing = Failing(
        np.array([math.nan]), np.array([limit.scale]), np.array([True]), np.array([True])
    )
    return Finding(limit.reading, None, (cause,), failing)


def tightest_margins(findings: tuple[Finding, ...]) -> Mapping[str, Margin]:
    """Return each reading's smallest margin, where several limits judge it."""
    margins: dict[str, Margin] = {}
    for found in findings:
        if found.margin is None:
            continue
        known = margins.get(found.reading)
        if known is None or found.margin.value < known.value:
            margins[found.reading] = found.margin
    return margins
