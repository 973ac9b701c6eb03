"""`station compare`: any runs beside each other, on the terminal and as a page."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path

import click

from station.cli.service.paper import SIZES, tell_files
from station.cli.shared.exitcodes import Exit
from station.cli.shared.paperfiles import write_page
from station.cli.shared.tables import plain_table
from station.cli.wiring.openlog import folder_with_log
from station.errors import RefusedInputError
from station.judging.verdicts.verdict import Verdict
from station.judging.words.words import measured_words
from station.records.kept.run import Run
from station.records.log.log import RunLog
from station.records.log.lookup import runs_beginning
from station.reports.comparison import MOST_RUNS, common_curves, comparison
from station.reports.translations import language
from station.screens.shared.overlayplot import overlay_lines

WIDEST, HEIGHT = 110, 20
FEWEST_DIGITS = 6  # of a run's id


def compare_runs(
    named: Sequence[str],
    curve: str,
    logs: Path,
    out: Path | None,
    language_code: str,
    paper: str,
    *,
    simulate: bool,
) -> int:
    """Draw a curve of all runs on the terminal; with `out`, write all curves as a page."""
    if not 2 <= len(named) <= MOST_RUNS:
        raise RefusedInputError(
            f"{len(named)} runs cannot be told apart on one plot.", f"Name 2 to {MOST_RUNS}."
        )
    with RunLog.open(folder_with_log(logs, simulate=simulate)) as log:
        runs = [run_named(log, name) for name in named]
    click.echo(terminal_text(runs, curve))
    if out is not None:
        page = comparison(runs, common_curves(runs), language(language_code), SIZES[paper])
        tell_files(write_page(out, f"comparison-{'-'.join(run.serial for run in runs)}", page))
    return Exit.PASS


def run_named(log: RunLog, name: str) -> Run:
    """Return a run by its id or the beginning of it, or a unit's newest run that is not void.

    Raises
    ------
    RefusedInputError
        If there is no such run.
    """
    found = runs_beginning(log, name) if len(name) >= FEWEST_DIGITS else ()
    if len(found) == 1:
        ((run_id, serial),) = found
        return next(run for run in log.runs_of(serial) if run.run_id == run_id)
    if found:
        raise RefusedInputError(f"Several runs begin with {name!r}.", "Write more of the run's id.")
    runs = log.runs_of(name)
    telling = [run for run in runs if run.judgement.verdict is not Verdict.VOID]
    if not runs:
        raise RefusedInputError(
            f"{name!r} is neither a run nor a unit of this log.",
            "Look it up with 'station find'.",
        )
    return (telling or list(runs))[-1]


def terminal_text(runs: Sequence[Run], name: str) -> str:
    """Return the runs, a curve of each, and their numbers."""
    without = [run.serial for run in runs if name not in run.readings.curves]
    if without:
        there = ", ".join(common_curves(runs)) or "none"
        raise RefusedInputError(
            f"The run of {without[0]} has no curve {name!r}.", f"Curves of these runs: {there}."
        )
    curves = [run.readings.curves[name] for run in runs]
    if len({curve.unit for curve in curves}) > 1:
        raise RefusedInputError(f"{name} has different units in these runs.", "Compare others.")
    width = min(shutil.get_terminal_size().columns, WIDEST)
    heads = [
        (
            str(number),
            run.serial,
            f"{run.model} {run.revision}",
            f"{run.started_utc:%Y-%m-%d %H:%M}",
            run.judgement.verdict.value.upper(),
            run.run_id,
        )
        for number, run in enumerate(runs, start=1)
    ]
    lines = [
        plain_table(("", "serial", "model", "UTC", "verdict", "run"), heads),
        "",
        f"{name}   = where curves lie together",
        *overlay_lines(curves, width, HEIGHT),
        "",
        plain_table(("", *(head[0] for head in heads)), number_rows(runs)),
    ]
    return "\n".join(lines)


def number_rows(runs: Sequence[Run]) -> list[tuple[str, ...]]:
    """Return each number with what every run read."""
    names = dict.fromkeys(name for run in runs for name in run.readings.numbers)
    return [(name, *(number_words(run, name) for run in runs)) for name in names]


def number_words(run: Run, name: str) -> str:
    """Return what a run read, empty if it did not."""
    number = run.readings.numbers.get(name)
    return "" if number is None else measured_words(number.value, number.unit, number.uncertainty)
