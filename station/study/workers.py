"""The units of a study spread over processes; which process tests a unit changes nothing."""

from __future__ import annotations

import multiprocessing
import os
import signal
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager

from station.errors import StationFaultError
from station.study.jobs import Job
from station.study.outcome import Outcome
from station.study.unitline import StudiedLimits, batch_outcomes

BATCH = 8  # units at most: some two seconds of work, which a stopped study may lose
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")  # one process is one core


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


def pool_of(workers: int) -> ProcessPoolExecutor:
    """Return a pool of fresh processes: a forked one could inherit a lock that is held for ever."""
    return ProcessPoolExecutor(
        workers,
        mp_context=multiprocessing.get_context("spawn"),
        initializer=leave_interrupts_to_parent,
    )


def leave_interrupts_to_parent() -> None:
    """Ignore Ctrl-C, which the terminal sends to all: the parent ends the pool."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def one_thread_each() -> Iterator[None]:
    """Let processes started meanwhile compute in one thread.

    Libraries read this when they are loaded, so there is no later and no other way to say it.
    """
    before = {name: os.environ.get(name) for name in THREADS}
    os.environ.update(dict.fromkeys(THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
