"""`station history`: every run of a serial number."""

from __future__ import annotations

from pathlib import Path

import click

from station.cli.exitcodes import Exit
from station.cli.jsonform import run_as_json
from station.cli.tables import cause_columns, plain_table
from station.cli.wiring import log_folder
from station.errors import RefusedInputError
from station.records.log import RunLog

HEADERS = (
    "UTC", "°C", "model", "attempt", "verdict", "cause", "margin", "next step", "recording",
)  # fmt: skip
WIDTHS = (10, None, None, None, None, 26, None, 32, 14)


def show_history(serial: str, logs: Path, *, simulate: bool, as_json: bool) -> int:
    """Show all runs of a serial number, oldest first."""
    folder = log_folder(logs, simulated=simulate)
    if not (folder / "station.db").exists():
        raise RefusedInputError(f"There is no log in {folder}.", "Name its folder with --logs.")
    log = RunLog.open(folder)
    try:
        runs = log.runs_of(serial)
    finally:
        log.close()
    if not runs:
        hint = "" if simulate else " Simulated units are found with --simulate."
        raise RefusedInputError(
            f"No run of {serial!r} is in {folder}.", f"Check the serial number.{hint}"
        )
    if as_json:
        for run in runs:
            click.echo(run_as_json(run))
        return Exit.PASS
    rows = [
        (
            f"{run.started_utc:%Y-%m-%d %H:%M:%S}",
            "" if run.temperature_c is None else f"{run.temperature_c:.1f}",
            f"{run.model} {run.revision}",
            str(run.attempt),
            run.judgement.verdict.value.upper(),
            *cause_columns(run.judgement),
            run.judgement.next_step,
            run.recording.name if run.recording else "none",
        )
        for run in runs
    ]
    click.echo(plain_table(HEADERS, rows, WIDTHS))
    return Exit.PASS
