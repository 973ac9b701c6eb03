"""Read a limit file, and refuse it whole with every fault at file:line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from station.errors import TextFileError
from station.judging.files.crosschecks import faults_between_tables
from station.judging.files.patternfile import ReadPattern, beside, faults_of_pattern, pattern_of
from station.judging.tables.tables import LimitFile
from station.tomlfiles.lines import Place
from station.tomlfiles.loading import model_from_toml, text_of_file


def limit_file(path: Path) -> tuple[LimitFile, str]:
    """Return a limit file's checked contents, with the pattern beside it, and its text.

    Raises
    ------
    TextFileError
        With every fault of the file, each with file and line.
    """
    text = text_of_file(path)
    return limit_file_from_text(text, str(path), beside(path.parent)), text


def limit_file_from_text(
    text: str, name: str, read_pattern: ReadPattern | None = None
) -> LimitFile:
    """Return the checked contents of a limit file's text; `name` is how faults call it.

    `read_pattern` finds the pattern file, if the text names one.
    """

    def further_faults(contents: Mapping[str, Any]) -> Iterator[tuple[Place, str]]:
        yield from faults_between_tables(contents)
        yield from faults_of_pattern(contents, read_pattern)

    limits = model_from_toml(text, name, LimitFile, further_faults)
    table = limits.readings.pattern
    if table is None or read_pattern is None:
        return limits
    try:
        pattern = pattern_of(read_pattern(table))
    except ValueError as error:  # it was there a moment ago
        raise TextFileError(f"The pattern file of {name} {error}.", "Try again.") from error
    return limits.model_copy(update={"learned": pattern.model})
