"""`station find`: runs by what is known of them."""

from __future__ import annotations

import json
from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.cli.shared.tables import plain_table
from station.cli.wiring.openlog import folder_with_log
from station.records.log.log import RunLog
from station.records.log.lookup import FoundRun, Wanted, find_runs

FORMAT = 1
ID_DIGITS = 10  # enough to name the run to 'station compare'
HEADERS = ("UTC", "serial", "model", "attempt", "verdict", "first cause", "run")
WIDTHS = (None, None, None, None, None, 44, None)


def show_found(wanted: Wanted, most: int, logs: Path, *, simulate: bool, as_json: bool) -> int:
    """Show the newest runs that fit, the newest first."""
    with RunLog.open(folder_with_log(logs, simulate=simulate)) as log:
        found = find_runs(log, wanted, most + 1)
    shown, more = found[:most], len(found) > most
    if as_json:
        for run in shown:
            click.echo(as_line(run))
        return Exit.PASS
    if not shown:
        click.echo("No run fits.")
        return Exit.PASS
    click.echo(plain_table(HEADERS, [row_of(run) for run in shown], WIDTHS))
    if more:
        click.echo(f"\nOnly the newest {most} are shown; ask for others with --most or narrower.")
    return Exit.PASS


def row_of(run: FoundRun) -> tuple[str, ...]:
    """Return the row of a run."""
    return (
        f"{run.started_utc:%Y-%m-%d %H:%M}",
        run.serial,
        f"{run.model} {run.revision}",
        str(run.attempt),
        run.verdict.value.upper() + (" (trial)" if run.trial else ""),
        run.cause,
        run.run_id[:ID_DIGITS],
    )


def as_line(run: FoundRun) -> str:
    """Return a run as one line of JSON; its keys stand in DEVELOPERS.md."""
    return json.dumps(
        {
            "format": FORMAT,
            "run": run.run_id,
            "serial": run.serial,
            "model": run.model,
            "revision": run.revision,
            "attempt": run.attempt,
            "utc": run.started_utc.isoformat(),
            "verdict": run.verdict.value,
            "simulated": run.simulated,
            "trial": run.trial,
            "cause": run.cause,
        },
        ensure_ascii=False,
    )
