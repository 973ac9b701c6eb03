"""Worker processes end with the process they work for, however it ends."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys

LONG_MS = 120_000  # what a loaded machine may need; a worker that stays fails the test then


def test_workers_end_when_their_parent_is_killed() -> None:
    program = (
        "import os, signal\n"
        "from station.cycle.processes import pool_of\n"
        "with pool_of(1) as pool:\n"
        "    print(pool.submit(os.getpid).result(), flush=True)\n"
        "    signal.pause()\n"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", program],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,  # where Python counts what the kill left
        text=True,
    )
    assert parent.stdout is not None
    with parent.stdout:
        worker = os.pidfd_open(int(parent.stdout.readline()))
    try:
        parent.kill()
        assert parent.wait() == -signal.SIGKILL
        ended = select.poll()
        ended.register(worker, select.POLLIN)
        assert ended.poll(LONG_MS), "a worker outlived the process it worked for"
    finally:
        os.close(worker)
