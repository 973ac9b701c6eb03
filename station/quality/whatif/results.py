"""How recordings ended under a draft, run by run as they come, so that a stopped work can go on.

The first line names the draft by its hash, and the versions that judged; every further line is
one run. A last line that was cut off is dropped and its recording judged again.
"""

from __future__ import annotations

import fcntl
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from station.errors import BusyError, RecordsError, RefusedInputError
from station.judging.verdict import Verdict
from station.quality.whatif.report import Ending

NAME = "tried.jsonl"
FORMAT = 1
ANEW = "Name another folder with --out to begin anew."


class TriedFile:
    """Endings known so far by run, and a file that more are added to."""

    def __init__(self, known: dict[str, Ending], file: BinaryIO | None) -> None:
        self.known = known
        self._file = file

    def add(self, run_id: str, ending: Ending) -> None:
        """Keep one more ending; raise RecordsError if it cannot be written."""
        self.known[run_id] = ending
        if self._file is not None:
            line = [run_id, ending.verdict.value, ending.cause, ending.severity]
            write_line(self._file, json.dumps(line, ensure_ascii=False))


@contextmanager
def tried_file(
    folder: Path | None, draft_sha256: str, versions: Mapping[str, str]
) -> Iterator[TriedFile]:
    """Hold the endings of one draft; without a folder they are kept nowhere.

    Raises
    ------
    RefusedInputError
        If the folder holds those of another draft or other versions, or what are no endings.
    BusyError
        If another process is writing there.
    RecordsError
        If the file cannot be used.
    """
    if folder is None:
        yield TriedFile({}, None)
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
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise BusyError(
                f"Another command is writing to {path}.", "Wait until it has ended."
            ) from error
        header = {"format": FORMAT, "draft_sha256": draft_sha256, "versions": dict(versions)}
        yield TriedFile(resumed(file, path, header), file)


def resumed(file: BinaryIO, path: Path, header: Mapping[str, object]) -> dict[str, Ending]:
    """Return what a file holds already, and leave it ready for more."""
    file.seek(0)
    *lines, torn = file.read().split(b"\n")
    if torn:
        file.truncate(file.tell() - len(torn))
    if not lines:
        write_line(file, json.dumps(header, ensure_ascii=False))
        return {}
    try:
        same = json.loads(lines[0]) == header
    except ValueError as error:
        raise RefusedInputError(f"{path}:1 does not say what was tried.", ANEW) from error
    if not same:
        raise RefusedInputError(f"{path} holds another draft's runs, or other versions'.", ANEW)
    known: dict[str, Ending] = {}
    for number, line in enumerate(lines[1:], start=2):
        try:
            run_id, verdict, cause, severity = json.loads(line)
            known[run_id] = Ending(Verdict(verdict), cause, severity)
        except (ValueError, TypeError) as error:
            raise RefusedInputError(f"{path}:{number} is no run's ending.", ANEW) from error
    return known


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
