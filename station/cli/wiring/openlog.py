"""The log that a command looks into, refused where there is none."""

from __future__ import annotations

from pathlib import Path

from station.cli.wiring.wiring import log_folder
from station.errors import RefusedInputError
from station.records.files.places import DATABASE_NAME, SET_ASIDE_NAME


def folder_with_log(logs: Path, *, simulate: bool) -> Path:
    """Return the folder of real or simulated runs; refuse one without a log."""
    folder = log_folder(logs, simulated=simulate)
    if not (folder / DATABASE_NAME).exists() and not (folder / SET_ASIDE_NAME).exists():
        raise RefusedInputError(f"There is no log in {folder}.", "Name its folder with --logs.")
    return folder
