"""The label of a unit that passed, to be stuck on it: Code 128 with the serial, QR with the run."""

from __future__ import annotations

from station.reports.certificate import codes_of, warnings
from station.reports.sheet import Paper, sheet
from station.reports.translations import Language
from station.reports.unitfacts import UnitFacts


def label(facts: UnitFacts, language: Language) -> str:
    """Return the label as a page of its own size, 70 by 30 mm."""
    words = language.text("Tested {day}: PASS").format(day=language.day(facts.run.started_utc))
    return sheet(
        "label.html.jinja",
        language,
        Paper.A4,
        created=facts.run.started_utc,
        footer="",
        unit=facts.run,
        codes=codes_of(facts),
        words=words,
        warnings=tuple(warnings(facts, language)),
    )
