"""The results of a study, unit by unit as they come, so that a stopped study can go on.

The first line says what was studied; every further line is one unit. A last line that was cut
off when the study was killed is dropped and its unit tested again.
"""

from __future__ import annotations

import fcntl
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from station.errors import BusyError, RecordsError, RefusedInputError
from station.study.jobs import Key
from station.study.outcome import Outcome, line_of, outcome_of

NAME = "results.jsonl"
FORMAT = 1
DIFFERENCES = {
    "format": "another form",
    "model": "another model",
    "revision": "another revision",
    "limits_sha256": "another text of the limit file (its hash)",
    "seed": "another seed",
    "versions": "other versions",
}
ANEW = "Name another folder with --out to begin anew."


@dataclass(frozen=True, slots=True)
class Header:
    """What every result of a file depends on."""

    limits_name: str
    limits_sha256: str
    model: str
    revision: str
    seed: int
    versions: Mapping[str, str]

    def as_object(self) -> dict[str, object]:
        """Return what the first line holds."""
        return {
            "format": FORMAT,
            "limits": self.limits_name,
            "limits_sha256": self.limits_sha256,
            "model": self.model,
            "revision": self.revision,
            "seed": self.seed,
            "versions": dict(self.versions),
        }


class ResultsFile:
    """Outcomes known so far, and a file that more are added to."""

    def __init__(self, known: dict[Key, Outcome], file: BinaryIO | None) -> None:
        self.known = known
        self._file = file

    def add(self, outcome: Outcome) -> None:
        """Keep one more outcome; raise RecordsError if it cannot be written."""
        self.known[outcome.key] = outcome
        if self._file is not None:
            write_line(self._file, line_of(outcome))


@contextmanager
def results_file(folder: Path | None, header: Header) -> Iterator[ResultsFile]:
    """Hold a study's results; without a folder they are kept nowhere.

    Raises
    ------
    RefusedInputError
        If the folder holds results of something else, or lines that are no results.
    BusyError
        If another study is writing there.
    RecordsError
        If the file cannot be used.
    """
    if folder is None:
        yield ResultsFile({}, None)
        return
    path = folder / NAME
    try:
        folder.mkdir(parents=True, exist_ok=True)
        file = path.open("a+b")
    except OSError as error:
        raise RecordsError(
            f"{path} cannot be used: {error.strerror}.", "Name another folder with --out."
        ) from error
    with file:
        lock(file, path)
        yield ResultsFile(resumed(file, path, header), file)


def lock(file: BinaryIO, path: Path) -> None:
    """Let nobody else write to the file; the system frees the lock when this process ends."""
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        raise BusyError(
            f"Another study is writing to {path}.", "Wait until it has ended."
        ) from error


def resumed(file: BinaryIO, path: Path, header: Header) -> dict[Key, Outcome]:
    """Return what a file holds already, and leave it ready for more."""
    file.seek(0)
    *lines, torn = file.read().split(b"\n")
    if torn:
        file.truncate(file.tell() - len(torn))
    if not lines:
        write_line(file, json.dumps(header.as_object(), ensure_ascii=False))
        return {}
    check_same_study(lines[0], path, header)
    known = {}
    for number, line in enumerate(lines[1:], start=2):
        try:
            outcome = outcome_of(line.decode())
        except (ValueError, KeyError, TypeError) as error:
            raise RefusedInputError(f"{path}:{number} is no result of a unit.", ANEW) from error
        known[outcome.key] = outcome
    return known


def check_same_study(line: bytes, path: Path, header: Header) -> None:
    """Refuse to add to the results of another study, naming what differs."""
    try:
        found = json.loads(line)
    except ValueError as error:
        raise RefusedInputError(f"{path}:1 does not say what was studied.", ANEW) from error
    wanted = header.as_object()
    if not isinstance(found, dict) or found.keys() != wanted.keys():
        raise RefusedInputError(f"{path}:1 does not say what was studied.", ANEW)
    for name, words in DIFFERENCES.items():
        if found[name] != wanted[name]:
            raise RefusedInputError(
                f"{path} holds results of {words}: {found[name]}, now {wanted[name]}. "
                "Results of both must not be mixed.",
                ANEW,
            )


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
