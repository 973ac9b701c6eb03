"""Worker processes for what takes many units: fresh ones, each on one core."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import TypeVar

from station.errors import StationFaultError

Item = TypeVar("Item")
Result = TypeVar("Result")

THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")  # one process is one core


def spread(
    work: Callable[[Sequence[Item]], Iterable[Result]],
    items: Sequence[Item],
    *,
    workers: int,
    batch: int,
    ended: StationFaultError,
) -> Iterator[Result]:
    """Yield what work makes of items, batch by batch as they come.

    In the order of the items only with one worker, which is this process; `work` must be
    picklable for more. Raises `ended` if a worker's process died.
    """
    size = max(1, min(batch, -(-len(items) // workers)))
    batches = [items[begin : begin + size] for begin in range(0, len(items), size)]
    if workers == 1:
        for one in batches:
            yield from work(one)
        return
    with one_thread_each(), pool_of(workers) as pool:
        waiting = [pool.submit(work, one) for one in batches]
        try:
            for done in as_completed(waiting):
                yield from done.result()
        except BrokenProcessPool as error:
            raise ended from error
        finally:
            pool.shutdown(wait=False, cancel_futures=True)


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


def compute_in_one_thread() -> None:
    """Let this process compute in one thread, unless its environment says otherwise.

    Its matrices are small: a second thread waits for the first more than it helps, and on a
    machine with other work it doubles the processor time. To be called before numpy is loaded.
    """
    for name in THREADS:
        os.environ.setdefault(name, "1")


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
