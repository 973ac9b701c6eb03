"""The units of a study spread over processes; which process tests a unit changes nothing."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from functools import partial

from station.cycle.processes import spread
from station.errors import StationFaultError
from station.study.jobs import Job
from station.study.outcome import Outcome
from station.study.unitline import StudiedLimits, batch_outcomes

BATCH = 8  # units at most: some two seconds of work, which a stopped study may lose


def outcomes(studied: StudiedLimits, jobs: Sequence[Job], workers: int) -> Iterator[Outcome]:
    """Yield outcomes as they come, in no particular order when there are several workers.

    Raises
    ------
    StationFaultError
        If a worker's process died.
    """
    ended = StationFaultError(
        "A process of the study ended by itself.",
        "Give the same command again: it goes on where it stopped.",
    )
    work = partial(batch_outcomes, studied, cpu_s=time.process_time)
    yield from spread(work, jobs, workers=workers, batch=BATCH, ended=ended)
