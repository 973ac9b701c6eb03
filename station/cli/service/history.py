"""`station history`: every run of a serial number."""

from __future__ import annotations

from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.cli.shared.jsonform import run_as_json
from station.cli.shared.setupwords import verdict_word
from station.cli.shared.tables import cause_columns, plain_table
from station.cli.wiring.openlog import folder_with_log
from station.errors import RefusedInputError
from station.records.chains.upkeep import UpkeepKind
from station.records.kept.run import Run
from station.records.log.log import RunLog

HEADERS = (
    "UTC", "°C", "model", "attempt", "verdict", "cause", "margin", "next step", "recording",
)  # fmt: skip
WIDTHS = (10, None, None, None, None, 26, None, 32, 14)


def show_history(serial: str, logs: Path, *, simulate: bool, as_json: bool) -> int:
    """Show all runs of a serial number, oldest first."""
    folder = folder_with_log(logs, simulate=simulate)
    with RunLog.open(folder) as log:
        runs, upkeep = log.runs_of(serial), log.upkeep()
    if not runs:
        hint = "" if simulate else " Simulated units are found with --simulate."
        raise RefusedInputError(
            f"No run of {serial!r} is in {folder}.", f"Check the serial number.{hint}"
        )
    if as_json:
        for run in runs:
            click.echo(run_as_json(run))
        return Exit.PASS
    gone = {entry.name for entry in upkeep if entry.kind is UpkeepKind.LET_GO}
    rows = [
        (
            f"{run.started_utc:%Y-%m-%d %H:%M:%S}",
            "" if run.temperature_c is None else f"{run.temperature_c:.1f}",
            f"{run.model} {run.revision}",
            str(run.attempt),
            verdict_word(run),
            *cause_columns(run.judgement),
            run.judgement.next_step,
            recording_words(run, gone),
        )
        for run in runs
    ]
    click.echo(plain_table(HEADERS, rows, WIDTHS))
    return Exit.PASS


def recording_words(run: Run, gone: set[str]) -> str:
    """Return the name of a run's recording, and whether it was let go by rule."""
    if run.recording is None:
        return "none"
    return f"{run.recording.name} (let go)" if run.recording.name in gone else run.recording.name
