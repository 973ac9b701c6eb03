"""The card that goes with a failed unit: what is outside, what is suspected, what was done."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from station.records.kept.service import StepKind
from station.reports.causewords import advice_words, cause_words, next_step_words
from station.reports.certificate import common, curve_figures
from station.reports.sheet import Paper, sheet
from station.reports.translations import Language
from station.reports.unitfacts import UnitFacts

PICTURES = 2  # of the readings furthest outside
PICTURE_HEIGHT = 170.0


@dataclass(frozen=True, slots=True)
class SuspectRow:
    """A part that may be at fault, why, and how to find out."""

    part: str
    why: str
    next_check: str


def rework_card(
    facts: UnitFacts,
    language: Language,
    paper: Paper,
    suspects: Sequence[SuspectRow],
    about_suspects: str = "",
) -> str:
    """Return the page; `about_suspects` says why there are none, or what else is to be known."""
    judgement, limits = facts.run.judgement, facts.limits
    return sheet(
        "rework_card.html.jinja",
        language,
        paper,
        **common(facts, language),
        next_step=next_step_words(language, judgement, limits),
        causes=[
            (
                cause_words(language, cause),
                advice_words(language, advice_beside(cause.advice, judgement.next_step), limits),
            )
            for cause in judgement.causes
        ],
        suspects=[(one.part, one.why, one.next_check) for one in suspects],
        about_suspects=about_suspects,
        figures=tuple(curve_figures(facts, language, failing_curves(facts), PICTURE_HEIGHT)),
        done=tuple(done_rows(facts)),
    )


def advice_beside(advice: str, next_step: str) -> str:
    """Return an advice that the next step does not say already."""
    return "" if advice == next_step else advice


def failing_curves(facts: UnitFacts) -> tuple[str, ...]:
    """Return the curves furthest outside; the response where only numbers are outside."""
    readings = [cause.reading.removesuffix(".offset") for cause in facts.run.judgement.causes]
    curves = [name for name in dict.fromkeys(readings) if name in facts.run.readings.curves]
    return tuple(curves[:PICTURES]) or ("response",)


def done_rows(facts: UnitFacts) -> Iterator[tuple[str, str, str, str]]:
    """Yield what was replaced already in the service the run belongs to."""
    if facts.service is not None:
        for step in facts.service.of_kind(StepKind.PART):
            yield step.part, step.batch, step.words, step.made_by
