"""The likely cause of rub and buzz in the words of a cause."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

from station.analysis.acoustic.rubcause import CauseName, RubCause
from station.analysis.readings import Number
from station.judging.verdicts.verdict import Cause, Judgement

RUB = ("rub", "rub_crest")
MOST_PERCENT = 99  # nothing heard is ever certain
WORDS: Mapping[CauseName, str] = {
    "coil_rub": "coil rub",
    "loose_part": "a loose part",
    "air_leak": "an air leak",
    "panel_arcing": "panel arcing",
}
LIKELY = "Rub or buzz, most likely {words} ({percent} %),"


def with_likely_cause(judgement: Judgement, found: RubCause) -> Judgement:
    """Return a fail whose causes of rub and buzz name what most likely makes it."""
    causes = tuple(
        replace(cause, happened=likely_words(cause, found)) if cause.reading in RUB else cause
        for cause in judgement.causes
    )
    first, renamed = judgement.causes[0], causes[0]
    next_step = judgement.next_step.replace(first.happened, renamed.happened)
    return replace(judgement, causes=causes, next_step=next_step)


def likely_words(cause: Cause, found: RubCause) -> str:
    """Return a cause's sentence with the likely cause in place of the reading's bare name."""
    if found.name is None:
        subject = "Rub or buzz of unknown cause"
    else:
        percent = min(round(100.0 * found.probability[found.name]), MOST_PERCENT)
        subject = LIKELY.format(words=WORDS[found.name], percent=percent)
    return cause.happened.replace(cause.reading, subject, 1)


def likely_cause(cause: Cause) -> tuple[CauseName, int] | None:
    """Return what a stored cause names as the likeliest, and its chance in percent."""
    for name, words in WORDS.items():
        likely = re.escape(LIKELY.format(words=words, percent="#")).replace(r"\#", "([0-9]+)")
        if found := re.match(likely, cause.happened):
            return name, int(found[1])
    return None


def cause_numbers(found: RubCause) -> Mapping[str, Number]:
    """Return the chance of each cause as readings."""
    return {
        f"rub_cause.{name}": Number(chance, "ratio") for name, chance in found.probability.items()
    }
