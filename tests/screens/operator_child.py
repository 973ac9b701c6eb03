"""The operator's program in a terminal of its own, with a cycle that waits to be stopped.

Run by test_ending.py: says on the file descriptor it is given what the cycle did.
"""

from __future__ import annotations

import fcntl
import os
import sys
import termios
import threading

from station.cycle.unit.report import Progress, ProgressCallback, Stage, UnitReport
from station.errors import StoppedError
from station.records.summaries.shift import ShiftCount
from station.screens.line.app import OperatorApp

PROGRESS_AFTER_STOP = 500  # more than any queue to a dead terminal holds


class StoringCycle:
    """Tests until it is stopped, goes on talking, and only then stores."""

    def __init__(self, report_to: int) -> None:
        self._report_to = report_to

    def say(self, what: str) -> None:
        os.write(self._report_to, f"{what}\n".encode())

    def say_fault(self, error: BaseException) -> None:
        self.say(f"fault {error!r}")

    def model_of(self, serial: str) -> tuple[str, str]:
        return "Tarn 2", "A"

    def test_unit(
        self, serial: str, *, on_progress: ProgressCallback, stop: threading.Event
    ) -> UnitReport:
        self.say(f"testing {serial}")
        stop.wait()
        for step in range(PROGRESS_AFTER_STOP):
            on_progress(Progress(Stage.SWEEPING, 1, step / PROGRESS_AFTER_STOP, -12.0))
        self.say("stored")
        raise StoppedError("The test was stopped.", "Scan it again.")

    def make_safe(self) -> None:
        pass

    def shift_so_far(self) -> ShiftCount:
        return ShiftCount(0, 0, 0, ())


def main() -> None:
    fcntl.ioctl(sys.stdin.fileno(), termios.TIOCSCTTY, 0)
    cycle = StoringCycle(int(sys.argv[1]))
    app = OperatorApp(cycle, station_name="Line 1", simulated=True, on_fault=cycle.say_fault)
    app.run(mouse=False)
    cycle.say(f"left with {app.return_code}")


if __name__ == "__main__":
    main()
