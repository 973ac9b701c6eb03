"""How recordings ended under a draft, run by run as they come, so that a stopped work can go on.

The first line names the draft by its hash, and the versions that judged.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from station.judging.verdicts.verdict import Verdict
from station.quality.whatif.report import Ending
from station.records.files.resultlines import LineKind, ResultLines, result_lines

NAME = "tried.jsonl"
FORMAT = 1


class TriedFile:
    """Endings known so far by run, and a file that more are added to."""

    def __init__(self, lines: ResultLines[tuple[str, Ending]]) -> None:
        self.known: dict[str, Ending] = dict(lines.known)
        self._lines = lines

    def add(self, run_id: str, ending: Ending) -> None:
        """Keep one more ending; raise RecordsError if it cannot be written."""
        self.known[run_id] = ending
        line = [run_id, ending.verdict.value, ending.cause, ending.severity]
        self._lines.add(json.dumps(line, ensure_ascii=False))


def ending_of(line: str) -> tuple[str, Ending]:
    """Return a run's id and its ending; raise ValueError or TypeError for another line."""
    run_id, verdict, cause, severity = json.loads(line)
    return run_id, Ending(Verdict(verdict), cause, severity)


def difference(found: Mapping[str, object], wanted: Mapping[str, object]) -> str | None:
    """Return what else was tried, None for the same."""
    return None if found == wanted else "another draft's runs, or other versions'"


KIND = LineKind(NAME, "Another command", "tried", "run's ending", ending_of, difference)


@contextmanager
def tried_file(
    folder: Path | None, draft_sha256: str, versions: Mapping[str, str]
) -> Iterator[TriedFile]:
    """Hold the endings of one draft, of which more come; raises as `result_lines` does."""
    first = {"format": FORMAT, "draft_sha256": draft_sha256, "versions": dict(versions)}
    with result_lines(folder, KIND, first) as lines:
        yield TriedFile(lines)
