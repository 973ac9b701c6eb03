"""The limits that a stored run was judged by, from what the log keeps of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from station.errors import TextFileError
from station.judging.files.limit_file import limit_file_from_text
from station.judging.files.patternfile import ReadPattern, as_kept, beside
from station.judging.files.shelf import ShelvedLimits
from station.records.kept.run import Run


def limits_of_run(run: Run, folders: Iterable[Path] = ()) -> ShelvedLimits:
    """Return the limits of a run, by today's checks.

    `folders` are where its pattern file may stand if the log does not have its text, which it has
    of every run that was stored since it keeps them.

    Raises
    ------
    TextFileError
        If the text no longer passes the checks, or its pattern file is nowhere.
    """
    setup, refusal = run.setup, None
    for read in readers(run, folders):
        try:
            limits = limit_file_from_text(setup.limit_text, setup.limit_name, read)
        except TextFileError as error:
            refusal = error
            continue
        table = limits.readings.pattern
        text = None if table is None or read is None else read(table)
        return ShelvedLimits(limits, setup.limit_text, setup.limit_name, pattern_text=text)
    assert refusal is not None  # there is always a reader
    raise refusal


def readers(run: Run, folders: Iterable[Path]) -> Iterator[ReadPattern | None]:
    """Yield what may find the pattern file of a run."""
    if run.setup.pattern_text is not None:
        yield as_kept(run.setup.pattern_text)
        return
    found: list[ReadPattern | None] = [beside(folder) for folder in folders]
    yield from found or [None]
