"""What a draft says of stored recordings: slower than from stored readings, but all is read anew.

Needed where a draft changes what is read, not only its limits. Each recording is judged alone, as
`station judge` does; which process judges it changes nothing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from station.analysis.readings import Readings
from station.cycle.processes import spread
from station.errors import RecordingFileError, RefusedInputError, StationFaultError
from station.judging.files.limit_file import limit_file
from station.judging.files.planning import plan_of
from station.judging.verdicts.judged import judged_recording
from station.judging.verdicts.verdict import Verdict
from station.quality.whatif.report import Ending
from station.records.recordings.recording_file import read_recording, sha256_of_file

BATCH = 8  # recordings at most, which a stopped command may lose
LOST = Ending(Verdict.VOID, "recording")


@dataclass(frozen=True, slots=True)
class DraftFile:
    """A draft as it was when the work began."""

    path: Path
    sha256: str


@dataclass(frozen=True, slots=True)
class KeptRecording:
    """The recording of a run, where it is and what it was."""

    run_id: str
    path: Path
    sha256: str


@dataclass(frozen=True, slots=True, eq=False)
class ReadAnew:
    """A recording judged by a draft; no readings where it is lost or is not what was stored."""

    run_id: str
    ending: Ending
    readings: Readings


def draft_file(path: Path) -> DraftFile:
    """Return a draft by its path, with its hash."""
    _, text = limit_file(path)
    return DraftFile(path, sha256_of_text(text))


def sha256_of_text(text: str) -> str:
    """Return the hash of a limit file's text."""
    return hashlib.sha256(text.encode()).hexdigest()


def read_anew(
    draft: DraftFile, recordings: Sequence[KeptRecording], workers: int
) -> Iterator[ReadAnew]:
    """Yield recordings judged by a draft, in no particular order with several workers.

    Raises
    ------
    StationFaultError
        If a worker's process died.
    """
    ended = StationFaultError(
        "A process that judged recordings ended by itself.",
        "Give the same command again: with --out it goes on where it stopped.",
    )
    work = partial(batch_read_anew, draft)
    yield from spread(work, recordings, workers=workers, batch=BATCH, ended=ended)


def batch_read_anew(draft: DraftFile, recordings: Sequence[KeptRecording]) -> tuple[ReadAnew, ...]:
    """Judge some recordings; runs in a process of its own.

    Raises
    ------
    RefusedInputError
        If the draft changed since the work began.
    """
    limits, text = limit_file(draft.path)
    if sha256_of_text(text) != draft.sha256:
        raise RefusedInputError(
            f"{draft.path} changed while recordings were judged by it.", "Begin again."
        )
    plan = plan_of(limits)
    found = []
    for kept in recordings:
        try:
            if sha256_of_file(kept.path) != kept.sha256:
                found.append(ReadAnew(kept.run_id, LOST, Readings()))
                continue
            recording, _ = read_recording(kept.path)
        except RecordingFileError:
            found.append(ReadAnew(kept.run_id, LOST, Readings()))
            continue
        judged = judged_recording(recording, plan, limits)
        causes = judged.judgement.causes
        ending = Ending(judged.judgement.verdict)
        if judged.judgement.verdict is Verdict.FAIL:
            ending = Ending(Verdict.FAIL, causes[0].reading, causes[0].severity)
        found.append(ReadAnew(kept.run_id, ending, judged.measured.readings))
    return tuple(found)
