"""The units of a study spread over processes; which process tests a unit changes nothing."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from concurrent.futures import as_completed
from concurrent.futures.process import BrokenProcessPool

from station.cycle.processes import one_thread_each, pool_of
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
    size = max(1, min(BATCH, -(-len(jobs) // workers)))
    batches = [jobs[begin : begin + size] for begin in range(0, len(jobs), size)]
    if workers == 1:
        for batch in batches:
            yield from batch_outcomes(studied, batch, time.process_time)
        return
    with one_thread_each(), pool_of(workers) as pool:
        waiting = [
            pool.submit(batch_outcomes, studied, batch, time.process_time) for batch in batches
        ]
        try:
            for done in as_completed(waiting):
                yield from done.result()
        except BrokenProcessPool as error:
            raise StationFaultError(
                "A process of the study ended by itself.",
                "Give the same command again: it goes on where it stopped.",
            ) from error
        finally:
            pool.shutdown(wait=False, cancel_futures=True)
