"""Read a limit file, and refuse it whole with every fault at file:line."""

from __future__ import annotations

from pathlib import Path

from station.judging.crosschecks import faults_between_tables
from station.judging.tables import LimitFile
from station.tomlfiles.loading import model_from_toml, text_of_file


def limit_file(path: Path) -> tuple[LimitFile, str]:
    """Return a limit file's checked contents and its text.

    Raises
    ------
    TextFileError
        With every fault of the file, each with file and line.
    """
    text = text_of_file(path)
    return limit_file_from_text(text, str(path)), text


def limit_file_from_text(text: str, name: str) -> LimitFile:
    """Return the checked contents of a limit file's text; `name` is how faults call it."""
    return model_from_toml(text, name, LimitFile, faults_between_tables)
