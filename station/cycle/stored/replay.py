"""A stored run judged once more, from its recording and the limits that the log keeps with it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from station.cycle.stored.storedlimits import limits_of_run
from station.errors import StationError
from station.judging.files.planning import plan_of
from station.judging.verdicts.judged import judged_recording
from station.judging.verdicts.verdict import Judgement
from station.records.kept.run import Run
from station.records.log.log import RunLog
from station.records.recordings.recording_file import read_recording


@dataclass(frozen=True, slots=True, eq=False)
class Replay:
    """A run and how it comes out again; `again` is None, and `why_not` a sentence, if it cannot.

    `moved` are the numbers that do not come out to the last bit.
    """

    run: Run
    again: Judgement | None
    moved: tuple[str, ...] = ()
    why_not: str = ""

    @property
    def same(self) -> bool:
        """Whether the verdict and what lies outside come out as they were stored."""
        return self.again is not None and outcome(self.again) == outcome(self.run.judgement)


def outcome(judgement: Judgement) -> tuple[object, ...]:
    """Return what a verdict comes to, in the order of its causes."""
    causes = tuple((cause.reading, cause.side) for cause in judgement.causes)
    return judgement.verdict, causes, judgement.next_step


def replayed(log: RunLog, run: Run, folders: Iterable[Path] = ()) -> Replay:
    """Return a run judged once more; `folders` may hold the pattern file of an old one."""
    if run.recording is None:
        return Replay(run, None, why_not="It kept no recording.")
    try:
        limits = limits_of_run(run, folders).limits
        if not log.recording_unchanged(run.recording):
            return Replay(run, None, why_not="Its recording was changed.")
        recording, _ = read_recording(log.path_of(run.recording))
    except StationError as error:
        return Replay(run, None, why_not=error.happened.rstrip())
    found = judged_recording(recording, plan_of(limits), limits)
    numbers = found.measured.readings.numbers
    stored = run.readings.numbers
    moved = tuple(name for name in stored if name in numbers and numbers[name] != stored[name])
    return Replay(run, found.judgement, moved)
