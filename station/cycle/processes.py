"""Worker processes for what takes many units: fresh ones, each on one core."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager

THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")  # one process is one core


def pool_of(workers: int) -> ProcessPoolExecutor:
    """Return a pool of fresh processes: a forked one could inherit a lock that is held for ever."""
    return ProcessPoolExecutor(
        workers,
        mp_context=multiprocessing.get_context("spawn"),
        initializer=live_with_parent,
    )


def live_with_parent() -> None:
    """Leave Ctrl-C, which the terminal sends to all, to the parent; end when it is killed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=end_with_parent, name="end with parent", daemon=True).start()


def end_with_parent() -> None:
    """Wait for the parent's end, which a pool's processes do not notice by themselves, and end."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


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
