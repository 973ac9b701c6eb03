"""The suspects of a failed run as a rework card lists them."""

from __future__ import annotations

from station.diagnosis.diagnose import diagnosis_of, model_of
from station.diagnosis.named.suspect import Diagnosis, Finding, Suspect
from station.diagnosis.named.words import (
    check_words,
    percent_words,
    summary_words,
    suspect_words,
    suspected_words,
)
from station.judging.tables.tables import LimitFile
from station.records.kept.run import Run
from station.reports.reworkcard import SuspectRow
from station.reports.translations import Language

MOST_ROWS = 3
LEAST_RATIO = 0.005  # what is told as 1 %


def diagnosis_of_run(run: Run, limits: LimitFile | None) -> Diagnosis:
    """Return who is suspected of a run's fault; nobody where its limits cannot be read."""
    model = None if limits is None else model_of(limits, run.readings)
    return diagnosis_of(model, run.readings, run.judgement)


def suspect_rows(diagnosis: Diagnosis, language: Language) -> tuple[tuple[SuspectRow, ...], str]:
    """Return the likeliest suspects, and the sentence that stands in their place or above them."""
    tell, summary = language.text, summary_words(diagnosis, language.text)
    if diagnosis.first is None:
        return (), summary
    rows = tuple(
        SuspectRow(
            suspected_words(one, tell),
            language.figures(f"{suspect_words(one, tell)} ({percent_words(one.probability)})."),
            check_words(one, tell),
        )
        for one in worth_telling(diagnosis)
    )
    alone = diagnosis.finding is not Finding.NOT_ONE_PART
    return rows, "" if alone else summary


def worth_telling(diagnosis: Diagnosis) -> tuple[Suspect, ...]:
    """Return the likeliest suspects, without those that nobody would look at."""
    first, *others = diagnosis.suspects[:MOST_ROWS]
    return first, *(one for one in others if one.probability >= LEAST_RATIO)
