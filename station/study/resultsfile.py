"""The results of a study, unit by unit as they come, so that a stopped study can go on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from station.records.files.resultlines import LineKind, ResultLines, result_lines
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

    def __init__(self, lines: ResultLines[Outcome]) -> None:
        self.known: dict[Key, Outcome] = {outcome.key: outcome for outcome in lines.known}
        self._lines = lines

    def add(self, outcome: Outcome) -> None:
        """Keep one more outcome; raise RecordsError if it cannot be written."""
        self.known[outcome.key] = outcome
        self._lines.add(line_of(outcome))


def difference(found: Mapping[str, object], wanted: Mapping[str, object]) -> str | None:
    """Return by what the results of another study differ from this one's, None for the same."""
    for name, words in DIFFERENCES.items():
        if found[name] != wanted[name]:
            return (
                f"results of {words}: {found[name]}, now {wanted[name]}. "
                "Results of both must not be mixed"
            )
    return None


KIND = LineKind(NAME, "Another study", "studied", "result of a unit", outcome_of, difference)


@contextmanager
def results_file(folder: Path | None, header: Header) -> Iterator[ResultsFile]:
    """Hold a study's results, of which more come; raises as `result_lines` does."""
    with result_lines(folder, KIND, header.as_object()) as lines:
        yield ResultsFile(lines)
