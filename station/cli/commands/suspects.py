"""Commands that say which part is likely at fault."""

from __future__ import annotations

from pathlib import Path

import click

from station.cli.commands.options import FILE, as_json, limits_folder, logs_folder, simulate


@click.command()
@click.argument("serial", required=False)
@click.option("--recording", type=FILE, help="A recording instead of a stored run.")
@click.option("--limits", "limits_path", type=FILE, help="The limit file for --recording.")
@limits_folder
@logs_folder
@simulate
@as_json
def suspect(
    *,
    serial: str | None,
    recording: Path | None,
    limits_path: Path | None,
    limits_folder: Path,
    logs: Path,
    simulate: bool,
    as_json: bool,
) -> int:
    """Name the parts of a failing unit that are likely at fault."""
    from station.cli.service.suspecting import suspect_of_recording, suspect_of_unit

    if recording is not None and limits_path is not None and serial is None:
        return suspect_of_recording(recording, limits_path, as_json=as_json)
    if serial is None or recording is not None or limits_path is not None:
        raise click.UsageError("Give a serial number, or --recording with --limits.")
    return suspect_of_unit(serial, logs, limits_folder, simulate=simulate, as_json=as_json)


@click.command()
@limits_folder
@logs_folder
@simulate
@as_json
def repairs(*, limits_folder: Path, logs: Path, simulate: bool, as_json: bool) -> int:
    """Compare the causes that repairs confirmed with what was suspected."""
    from station.cli.service.suspecting import show_repairs

    return show_repairs(logs, limits_folder, simulate=simulate, as_json=as_json)
