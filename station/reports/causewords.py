"""Why a run failed and what to do about it, in the language of the paper.

The log's own words are English. Causes are composed anew from reading, side and margin; what the
program advised is translated whole; what people wrote into the limit file is translated where the
file says how, and stays as it is otherwise.
"""

from __future__ import annotations

from station.judging.tables.tables import LimitFile
from station.judging.verdicts.judge import REWORK
from station.judging.verdicts.noiseguard import ROOM
from station.judging.verdicts.rubwords import likely_cause
from station.judging.verdicts.verdict import Cause, Judgement
from station.judging.words.words import frequency_words
from station.records.summaries.shiftsummary import CauseKind
from station.reports.quantities import quantity_on_paper
from station.reports.readingnames import input_name, reading_name, rub_words
from station.reports.translations import Language

OF_THE_WHOLE = ("recording", "unit")  # no input or reading of its own is at fault


def cause_words(language: Language, cause: Cause) -> str:
    """Return a cause as a sentence."""
    _ = language.text
    name = reading_name(language, cause.reading)
    if cause.side == "missing":
        return _("{reading}: could not be read from this unit.").format(reading=name)
    if cause.side == "untrusted":
        return _("{reading}: not to be trusted.").format(reading=name)
    below = cause.side == "below"
    words = (
        _("{reading}: {size} below the limit") if below else _("{reading}: {size} above the limit")
    )
    told = words.format(
        reading=name, size=quantity_on_paper(language, abs(cause.margin), cause.unit)
    )
    if cause.at_hz is not None:
        told = _("{margin} at {frequency}").format(
            margin=told, frequency=frequency_words(cause.at_hz)
        )
    if (likely := likely_cause(cause)) is not None:
        what, percent = likely
        told = _("{cause}, most likely {what} ({percent} %)").format(
            cause=told, what=rub_words(language, what), percent=percent
        )
    return language.figures(f"{told}.")


def first_cause_words(language: Language, kind: CauseKind) -> str:
    """Return what first causes of one kind have in common, as a sentence."""
    if kind.reading == ROOM:
        return language.text(
            "A noise in the room, not the unit, put readings outside their limits."
        )
    if not kind.why:
        return kind_words(language, kind.reading, kind.side)
    if kind.reading in OF_THE_WHOLE:
        return language.text(kind.why)
    return f"{input_name(language, kind.reading)}: {language.text(kind.why)}"


def kind_words(language: Language, reading: str, side: str) -> str:
    """Return what is common to causes of one reading and side, as a sentence."""
    _ = language.text
    words = {
        "below": _("{reading}: below the limit."),
        "above": _("{reading}: above the limit."),
        "missing": _("{reading}: could not be read."),
        "untrusted": _("{reading}: not to be trusted."),
    }[side]
    return words.format(reading=reading_name(language, reading))


def next_step_words(language: Language, judgement: Judgement, limits: LimitFile | None) -> str:
    """Return what to do with a unit that failed."""
    step = judgement.next_step
    if step.startswith(REWORK) and judgement.causes:
        first = cause_words(language, judgement.causes[0])
        return f"{language.text(REWORK)} {first}"
    return advice_words(language, step, limits)


def advice_words(language: Language, advice: str, limits: LimitFile | None) -> str:
    """Return an advice in this language, if anybody has translated it; else as it was written."""
    if not advice:
        return ""
    by_hand = {} if limits is None else limits.translations.get(language.code, {})
    return by_hand.get(advice) or language.text(advice)
