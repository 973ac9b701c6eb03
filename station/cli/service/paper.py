"""`station certificate`, `rework-card`, `label`, `shift-page`: what is printed at the line."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.cli.shared.paperfiles import write_page
from station.cli.wiring.openlog import folder_with_log
from station.errors import RefusedInputError
from station.judging.verdicts.verdict import Verdict
from station.records.log.log import RunLog
from station.records.log.production import left_out
from station.records.summaries.runlist import Period
from station.reports.certificate import certificate
from station.reports.label import label
from station.reports.reworkcard import rework_card
from station.reports.sheet import Paper
from station.reports.shiftpage import shift_page
from station.reports.suspectrows import diagnosis_of_run, suspect_rows
from station.reports.translations import Language, language
from station.reports.unitfacts import UnitFacts, facts_for
from station.service.builtlimits import limit_sources

SIZES = {"a4": Paper.A4, "letter": Paper.LETTER}


@dataclass(frozen=True, slots=True)
class PaperOptions:
    """Where the log and its limits are, and what paper is wanted."""

    logs: Path
    limits_folder: Path
    out: Path
    language: str
    paper: str
    simulate: bool

    @property
    def language_of_paper(self) -> Language:
        """The language with its texts."""
        return language(self.language)

    @property
    def size(self) -> Paper:
        """The size of the paper."""
        return SIZES[self.paper]


def print_certificate(serial: str, options: PaperOptions) -> int:
    """Write the certificate of a unit that passed."""
    return print_unit(
        serial,
        options,
        Verdict.PASS,
        "certificate",
        lambda facts: certificate(facts, options.language_of_paper, options.size),
    )


def print_rework_card(serial: str, options: PaperOptions) -> int:
    """Write the card of a unit that failed."""
    return print_unit(
        serial,
        options,
        Verdict.FAIL,
        "rework",
        lambda facts: rework_card(
            facts,
            options.language_of_paper,
            options.size,
            *suspect_rows(diagnosis_of_run(facts.run, facts.limits), options.language_of_paper),
        ),
    )


def print_label(serial: str, options: PaperOptions) -> int:
    """Write the label of a unit that passed."""
    return print_unit(
        serial,
        options,
        Verdict.PASS,
        "label",
        lambda facts: label(facts, options.language_of_paper),
    )


def print_unit(
    serial: str,
    options: PaperOptions,
    verdict: Verdict,
    kind: str,
    page: Callable[[UnitFacts], str],
) -> int:
    """Write a paper about a unit's newest run."""
    folder = folder_with_log(options.logs, simulate=options.simulate)
    with RunLog.open(folder) as log:
        facts = facts_for(log, limit_sources(options.limits_folder), serial, verdict)
        tell_files(write_page(options.out, f"{serial}-{kind}", page(facts)))
    return Exit.PASS


def print_shift(from_utc: datetime, to_utc: datetime, options: PaperOptions) -> int:
    """Write the shift report."""
    if from_utc >= to_utc:
        raise RefusedInputError("The shift ends before it begins.", "Mend --from or --to.")
    folder = folder_with_log(options.logs, simulate=options.simulate)
    with RunLog.open(folder) as log:
        summary, tips = log.shift_summary(from_utc, to_utc), log.tips()
        left = left_out(log, None, Period(from_utc, to_utc))
    page = shift_page(
        summary,
        left,
        tips,
        from_utc,
        to_utc,
        options.language_of_paper,
        options.size,
        simulated=options.simulate,
    )
    tell_files(write_page(options.out, f"shift-{to_utc:%Y%m%d-%H%M}", page))
    return Exit.PASS


def tell_files(paths: Iterable[Path]) -> None:
    """Say where paper was written."""
    for path in paths:
        click.echo(str(path))
