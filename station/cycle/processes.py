"""Worker processes for what takes many units: fresh ones, each on one core."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager

THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")  # one process is one core


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
