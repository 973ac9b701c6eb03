"""A whole study: every unit tested, those already in the results file not again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from station.errors import RefusedInputError
from station.records.files.resultlines import ANEW
from station.study.findings import Findings, findings_of
from station.study.jobs import Job, StudyPlan, jobs_of
from station.study.resultsfile import Header, ResultsFile, results_file
from station.study.unitline import StudiedLimits
from station.study.workers import outcomes

OnDone = Callable[[int, int], None]  # units done, units in all


def power_study(
    plan: StudyPlan,
    studied: StudiedLimits,
    header: Header,
    folder: Path | None,
    *,
    workers: int,
    on_done: OnDone,
) -> Findings:
    """Test whatever is not tested yet and return what all of it says.

    Raises
    ------
    RefusedInputError
        If the folder holds another study, or the limit file changed meanwhile.
    StationFaultError
        If the results cannot be kept or a process died; what was done stays done.
    """
    jobs = tuple(jobs_of(plan))
    with results_file(folder, header) as results:
        left = [job for job in jobs if not is_known(job, results)]
        done = len(jobs) - len(left)
        on_done(done, len(jobs))
        for outcome in outcomes(studied, left, workers):
            results.add(outcome)
            done += 1
            on_done(done, len(jobs))
        return findings_of(plan, {job.key: results.known[job.key] for job in jobs})


def is_known(job: Job, results: ResultsFile) -> bool:
    """Return whether a unit was tested before; refuse results of units drawn in another way."""
    known = results.known.get(job.key)
    if known is not None and known.serial != job.serial:
        raise RefusedInputError(
            f"The results hold {known.serial} where this version draws {job.serial}.", ANEW
        )
    return known is not None
