"""A file of results, line by line as they come, so that stopped work can go on.

The first line says what the results depend on; every further line is one result. A last line
that was cut off when the work was killed is dropped.
"""

from __future__ import annotations

import fcntl
import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Generic, TypeVar

from station.errors import BusyError, RecordsError, RefusedInputError

ANEW = "Name another folder with --out to begin anew."

Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class LineKind(Generic[Result]):
    """What stands in a file of results.

    Attributes
    ----------
    name : str
        The file's name in its folder.
    writer : str
        Who may be writing to it, as a sentence begins.
    done : str
        What was done to a unit, as in "does not say what was studied".
    one : str
        What a line is.
    result_of : callable
        Reads a line; raises ValueError, KeyError or TypeError for what is none.
    difference : callable
        Tells a found first line from the wanted one: a sentence without its stop, or None.
    """

    name: str
    writer: str
    done: str
    one: str
    result_of: Callable[[str], Result]
    difference: Callable[[Mapping[str, object], Mapping[str, object]], str | None]


class ResultLines(Generic[Result]):
    """Results known when the file was opened, and the file that more lines are added to."""

    def __init__(self, known: tuple[Result, ...], file: BinaryIO | None) -> None:
        self.known = known
        self._file = file

    def add(self, line: str) -> None:
        """Write one more line, if there is a file; raise RecordsError if it cannot be written."""
        if self._file is not None:
            write_line(self._file, line)


@contextmanager
def result_lines(
    folder: Path | None, kind: LineKind[Result], first: Mapping[str, object]
) -> Iterator[ResultLines[Result]]:
    """Hold a file of results; without a folder they are kept nowhere.

    Raises
    ------
    RefusedInputError
        If the folder holds results of something else, or lines that are no results.
    BusyError
        If another process is writing there.
    RecordsError
        If the file cannot be used.
    """
    if folder is None:
        yield ResultLines((), None)
        return
    path = folder / kind.name
    try:
        folder.mkdir(parents=True, exist_ok=True)
        file = path.open("a+b")
    except OSError as error:
        raise RecordsError(
            f"{path} cannot be used: {error.strerror}.", "Name another folder with --out."
        ) from error
    with file:
        lock(file, path, kind.writer)
        yield ResultLines(resumed(file, path, kind, first), file)


def lock(file: BinaryIO, path: Path, writer: str) -> None:
    """Let nobody else write to the file; the system frees the lock when this process ends."""
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        raise BusyError(f"{writer} is writing to {path}.", "Wait until it has ended.") from error


def resumed(
    file: BinaryIO, path: Path, kind: LineKind[Result], first: Mapping[str, object]
) -> tuple[Result, ...]:
    """Return what a file holds already, and leave it ready for more."""
    file.seek(0)
    *lines, torn = file.read().split(b"\n")
    if torn:
        file.truncate(file.tell() - len(torn))
    if not lines:
        write_line(file, json.dumps(first, ensure_ascii=False))
        return ()
    check_first_line(lines[0], path, kind, first)
    known = []
    for number, line in enumerate(lines[1:], start=2):
        try:
            known.append(kind.result_of(line.decode()))
        except (ValueError, KeyError, TypeError) as error:
            raise RefusedInputError(f"{path}:{number} is no {kind.one}.", ANEW) from error
    return tuple(known)


def check_first_line(
    line: bytes, path: Path, kind: LineKind[Result], wanted: Mapping[str, object]
) -> None:
    """Refuse to add to results of something else, saying what differs."""
    nothing_said = f"{path}:1 does not say what was {kind.done}."
    try:
        found = json.loads(line)
    except ValueError as error:
        raise RefusedInputError(nothing_said, ANEW) from error
    if not isinstance(found, dict) or found.keys() != wanted.keys():
        raise RefusedInputError(nothing_said, ANEW)
    difference = kind.difference(found, wanted)
    if difference is not None:
        raise RefusedInputError(f"{path} holds {difference}.", ANEW)


def write_line(file: BinaryIO, line: str) -> None:
    """Add a line and hand it to the system; raise RecordsError if it cannot be written."""
    try:
        file.write(line.encode() + b"\n")
        file.flush()
    except OSError as error:
        raise RecordsError(
            f"The results cannot be written: {error.strerror}.",
            "Make room on the disk, then give the same command again.",
        ) from error
