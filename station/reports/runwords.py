"""What paper says of a run, as rows of words in the language of the paper."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from station.cycle.stored.totaluncertainty import expanded_uncertainty
from station.judging.tables.tables import NumberTable
from station.judging.verdicts.risks import stated_risk
from station.judging.verdicts.verdict import Margin
from station.judging.words.words import frequency_words
from station.records.kept.run import Run
from station.records.kept.service import LimitsFrom
from station.reports.quantities import measured_on_paper, quantity_on_paper
from station.reports.readingnames import input_name, reading_name
from station.reports.translations import Language
from station.reports.unitfacts import UnitFacts

HASH_GROUP = 8  # people compare a hash in groups
SMALLEST_RISK = 1e-4  # below this a normal distribution says nothing about a real product
Row = tuple[str, str]


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One judged reading as the table shows it."""

    name: str
    value: str
    expanded: str
    limits: str
    margin: str
    outside: bool


def identity_rows(language: Language, facts: UnitFacts) -> Iterator[Row]:
    """Yield what the unit is and when and where it was tested."""
    _, run, dossier = language.text, facts.run, facts.dossier
    yield _("Serial number"), run.serial
    yield _("Model"), run.model
    yield _("Built to revision"), dossier.revision
    if run.revision != dossier.revision:
        yield _("Tested as revision"), run.revision
    if dossier.built_on:
        yield _("Left the factory"), built_words(language, facts)
    yield _("Tested"), language.instant(run.started_utc)
    yield _("Station"), run.setup.station_name
    if run.operator is not None:
        yield _("Tested by"), run.operator.name
    if run.temperature_c is not None:
        yield _("Temperature"), language.figures(f"{run.temperature_c:.1f} °C")


def built_words(language: Language, facts: UnitFacts) -> str:
    """Return the day a unit was built, and where that is known from if not from the log."""
    built = facts.dossier.as_built
    if built is not None and built.run is not None:
        return language.day(built.run.started_utc)
    record = None if built is None else built.record
    if record is None:
        return facts.dossier.built_on
    told = language.text("by an imported record: {origin}").format(origin=record.origin)
    return f"{record.measured_on} ({told})"


def reading_rows(language: Language, facts: UnitFacts) -> Iterator[ReadingRow]:
    """Yield every judged reading with its uncertainty, its limits and its margin."""
    failing = {cause.reading.removesuffix(".offset") for cause in facts.run.judgement.causes}
    for reading, margin in facts.run.judgement.margins.items():
        yield ReadingRow(
            reading_name(language, reading),
            value_words(language, facts.run, reading),
            expanded_words(language, facts.run, reading),
            limit_words(language, facts, reading),
            margin_words(language, margin),
            reading in failing,
        )


def value_words(language: Language, run: Run, reading: str) -> str:
    """Return a number with its standard uncertainty, or that it is a curve."""
    number = run.readings.numbers.get(reading)
    if number is None:
        return language.text("curve")
    return language.figures(
        measured_on_paper(language, number.value, number.unit, number.uncertainty)
    )


def expanded_words(language: Language, run: Run, reading: str) -> str:
    """Return the expanded uncertainty with the calibration in it, empty where it is not known."""
    number = run.readings.numbers.get(reading)
    if number is None:
        return ""
    expanded = expanded_uncertainty(reading, number, run.setup.calibrations)
    if expanded is None:
        return ""
    _, plus_minus, words = measured_on_paper(
        language, number.value, number.unit, expanded
    ).partition("± ")
    return language.figures(f"{plus_minus}{words}")


def limit_words(language: Language, facts: UnitFacts, reading: str) -> str:
    """Return the acceptance limits of a number, with the tolerance limits where they differ."""
    if facts.limits is None:
        return ""
    table = next((one for one in facts.limits.numbers if one.reading == reading), None)
    number = facts.run.readings.numbers.get(reading)
    if table is None or number is None:
        return language.text("band") if reading in facts.bands else ""
    decision = facts.run.judgement.decision
    conformity = None if decision is None else decision.conformities.get(reading)
    words = side_words(language, table.lower, table.upper, number.unit)
    if conformity is None or conformity.guard == 0.0:
        return words
    lower, upper = guarded(table, conformity.guard)
    inside = side_words(language, lower, upper, number.unit)
    return language.text("{acceptance} (tolerance {tolerance})").format(
        acceptance=inside, tolerance=words
    )


def guarded(table: NumberTable, guard: float) -> tuple[float | None, float | None]:
    """Return limits moved inside by a guard band."""
    lower = None if table.lower is None else table.lower + guard
    upper = None if table.upper is None else table.upper - guard
    return lower, upper


def side_words(language: Language, lower: float | None, upper: float | None, unit: str) -> str:
    """Return two limits, or the one there is."""
    low = "" if lower is None else signed_words(language, lower, unit)
    high = "" if upper is None else signed_words(language, upper, unit)
    if not low:
        words = f"≤ {high}"
    elif not high:
        words = f"≥ {low}"
    else:
        words = f"{low} … {high}"
    return language.figures(words)


def signed_words(language: Language, value: float, unit: str) -> str:
    """Return a quantity with a true minus sign."""
    return quantity_on_paper(language, value, unit).replace("-", "−")


def margin_words(language: Language, margin: Margin) -> str:
    """Return a margin with its sign and where it stands."""
    if math.isnan(margin.value):
        return "–"
    sign = "+" if margin.value >= 0.0 else "−"
    words = f"{sign}{quantity_on_paper(language, abs(margin.value), margin.unit)}"
    if margin.at_hz is not None:
        at = frequency_words(margin.at_hz)
        words = language.text("{margin} at {frequency}").format(margin=words, frequency=at)
    return language.figures(words)


def decision_rows(language: Language, run: Run) -> Iterator[str]:
    """Yield how the verdict was decided, and whose risk remains."""
    _, decision = language.text, run.judgement.decision
    if decision is None:
        yield _("Decided by the limits as they stand, without regard to uncertainty.")
        return
    if decision.r is None:
        words = _(
            "Accepted up to the tolerance limits (JCGM 106, simple acceptance; U with k = {k})."
        )
        yield language.figures(words.format(k=f"{decision.k:g}"))
    else:
        words = _("Acceptance limits lie {r} × U inside the tolerance limits (JCGM 106; k = {k}).")
        yield language.figures(words.format(r=f"{decision.r:g}", k=f"{decision.k:g}"))
    risk = stated_risk(run.judgement)
    if risk is None:
        yield _("No risk can be stated.")
        return
    whose, reading, probability = risk
    name = _("Consumer's risk") if whose == "consumer" else _("Producer's risk")
    yield language.figures(
        _("{risk}: {probability} by {reading}.").format(
            risk=name,
            probability=probability_words(language, probability),
            reading=reading_name(language, reading),
        )
    )


def probability_words(language: Language, probability: float) -> str:
    """Return a probability in percent, never finer than can be known."""
    if probability < SMALLEST_RISK:
        return language.text("below {limit} %").format(limit=f"{100.0 * SMALLEST_RISK:g}")
    return f"{100.0 * probability:.2g} %"


def limits_rows(language: Language, facts: UnitFacts) -> Iterator[str]:
    """Yield by which limits it was judged, where they come from, and what they are worth."""
    _, setup = language.text, facts.run.setup
    yield _("Limits of revision {revision}: {name}").format(
        revision=facts.run.revision, name=setup.limit_name
    )
    if facts.limits is None:
        yield _("This version of the program can no longer read them, so no bands are drawn.")
    if not facts.dossier.in_log:
        yield _("This unit is older than the log.")
    if facts.service is not None:
        yield {
            LimitsFrom.RUN: _("They are those stored with its production."),
            LimitsFrom.ARCHIVE: _("They come from the archive of old limit files."),
            LimitsFrom.SHELF: _("They are today's, as no older ones were kept."),
            LimitsFrom.SERVICE: _("They are those of a service revision."),
        }[facts.limits_from]
    table = None if facts.limits is None else facts.limits.service
    if table is not None:
        yield _("Service revision for a rebuilt part: {part}, made to {made_to}").format(
            part=table.part, made_to=table.made_to
        )


def calibration_rows(language: Language, run: Run) -> Iterator[str]:
    """Yield the state of calibration of each input."""
    _ = language.text
    if not run.setup.calibrations:
        yield _("Nothing is known of the calibration of the inputs.")
    for role, used in run.setup.calibrations.items():
        name = input_name(language, role)
        if used is None:
            yield _("{input}: not calibrated").format(input=name)
            continue
        size = f"{used.standard_uncertainty_db:.2f} dB"
        yield _("{input}: calibrated {day}, standard uncertainty {size} ({name})").format(
            input=name,
            day=language.day(used.calibrated_utc),
            size=language.figures(size),
            name=used.calibration_id[:HASH_GROUP],
        )


def log_rows(language: Language, facts: UnitFacts) -> Iterator[Row]:
    """Yield where the run is found in the log."""
    _, run = language.text, facts.run
    yield _("Run"), run.run_id
    yield _("Entry number"), str(facts.place.number)
    yield _("Hash of the entry"), grouped(facts.place.hash)
    yield _("Recording"), _("none") if run.recording is None else run.recording.name


def grouped(hash_hex: str) -> str:
    """Return a hash in groups that people can compare."""
    starts = range(0, len(hash_hex), HASH_GROUP)
    return " ".join(hash_hex[start : start + HASH_GROUP] for start in starts)
