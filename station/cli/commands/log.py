"""Commands that look into the log."""

from __future__ import annotations

from pathlib import Path

import click

from station.cli.commands.options import as_json, logs_folder, simulate


@click.command()
@click.argument("serial")
@logs_folder
@simulate
@as_json
def history(*, serial: str, logs: Path, simulate: bool, as_json: bool) -> int:
    """Show every run of a serial number."""
    from station.cli.history import show_history

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
    from station.cli.pairing import show_pair

    return show_pair(first_serial, second_serial, logs, simulate=simulate, as_json=as_json)
