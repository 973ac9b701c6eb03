"""Ctrl-C and a polite kill as a request, for commands that must not stop half-way."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def stoppable() -> Iterator[threading.Event]:
    """Turn Ctrl-C and a polite kill into a request to stop, so that no run is left half stored."""
    stop = threading.Event()

    def ask(_number: int, _frame: FrameType | None) -> None:
        stop.set()

    before = {number: signal.signal(number, ask) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
