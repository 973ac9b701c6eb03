"""Commands that keep the station in order."""

from __future__ import annotations

from pathlib import Path

import click

from station.cli.commands.options import limits_folder, logs_folder, station_file


@click.command()
@limits_folder
@logs_folder
@station_file
def doctor(*, limits_folder: Path, logs: Path, station_file: Path | None) -> int:
    """Say what is there, what is missing, how to mend it."""
    from station.cli.doctor import examine

    return examine(limits_folder, logs, station_file)
