"""Commands that look into the log."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import click

from station.cli.commands.options import as_json, logs_folder, simulate

INSTANT = click.DateTime(("%Y-%m-%d", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M:%S"))
SHIFT = timedelta(hours=8)


@click.command()
@click.argument("serial")
@logs_folder
@simulate
@as_json
def history(*, serial: str, logs: Path, simulate: bool, as_json: bool) -> int:
    """Show every run of a serial number."""
    from station.cli.service.history import show_history

    return show_history(serial, logs, simulate=simulate, as_json=as_json)


@click.command()
@click.argument("first_serial", metavar="SERIAL")
@click.argument("second_serial", metavar="SERIAL")
@logs_folder
@simulate
@as_json
def pair(
    *, first_serial: str, second_serial: str, logs: Path, simulate: bool, as_json: bool
) -> int:
    """Show how alike two tested units are."""
    from station.cli.service.pairing import show_pair

    return show_pair(first_serial, second_serial, logs, simulate=simulate, as_json=as_json)


@click.command("shift-report")
@click.option("--from", "begin", type=INSTANT, help="UTC; without it, 8 hours before the end.")
@click.option("--to", "end", type=INSTANT, help="UTC; without it, now.")
@logs_folder
@simulate
@as_json
def shift_report(
    *, begin: datetime | None, end: datetime | None, logs: Path, simulate: bool, as_json: bool
) -> int:
    """Show a shift in numbers, and the hashes that prove the log."""
    from station.cli.keeping.shiftreport import show_shift_report

    to_utc = datetime.now(UTC) if end is None else end.replace(tzinfo=UTC)
    from_utc = to_utc - SHIFT if begin is None else begin.replace(tzinfo=UTC)
    return show_shift_report(logs, from_utc, to_utc, simulate=simulate, as_json=as_json)
