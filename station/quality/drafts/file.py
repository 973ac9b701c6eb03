"""A draft as a file: never over another, with the population it names beside it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from station.errors import RecordsError, RefusedInputError
from station.judging.files.limit_file import limit_file_from_text
from station.judging.files.patternfile import beside
from station.judging.tables.tables import LimitFile


def write_draft(out: Path, text: str, limits: LimitFile, folder: Path) -> None:
    """Write a draft that the station could use; `folder` has the population it may name.

    Raises
    ------
    RefusedInputError
        If there is a file already, or the text has faults.
    RecordsError
        If it cannot be written.
    """
    refuse_to_overwrite(out)
    with told(out):
        out.parent.mkdir(parents=True, exist_ok=True)
        copy_pattern(limits, folder, out.parent)
        limit_file_from_text(text, str(out), beside(out.parent))
        out.write_text(text, encoding="utf-8")


def copy_pattern(limits: LimitFile, folder: Path, to: Path) -> None:
    """Copy the population that a limit file names, if it is not there already."""
    table = limits.readings.pattern
    if table is not None and not (to / table.file).exists():
        shutil.copyfile(folder / table.file, to / table.file)


def refuse_to_overwrite(path: Path) -> None:
    """Refuse to write over what is there."""
    if path.exists():
        raise RefusedInputError(
            f"{path} exists, and a draft is never written over another.", "Name a new file."
        )


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Tell in a sentence why a file cannot be written."""
    try:
        yield
    except OSError as error:
        raise RecordsError(
            f"{path} cannot be written: {error.strerror}.", "Name another place."
        ) from error
