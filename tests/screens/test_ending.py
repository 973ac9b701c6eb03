"""However the program ends, the running test is stopped and stored first."""

from __future__ import annotations

import fcntl
import os
import select
import signal
import struct
import subprocess
import sys
import termios
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

CHILD = Path(__file__).parent / "operator_child.py"
PATIENCE_S = 30.0
READY = b"Scan the serial number"


class Terminal:
    """The far end of a terminal in which the operator's program runs."""

    def __init__(self) -> None:
        self.screen, near = os.openpty()
        fcntl.ioctl(near, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.report, report_to = os.pipe()
        self.process = subprocess.Popen(
            [sys.executable, str(CHILD), str(report_to)],
            stdin=near,
            stdout=near,
            stderr=near,
            pass_fds=(report_to,),
            start_new_session=True,
            env={**os.environ, "TERM": "xterm-256color"},
        )
        os.close(near)
        os.close(report_to)
        self.shown = b""
        self.said = b""
        self.open = True

    def type(self, keys: bytes) -> None:
        os.write(self.screen, keys)

    def wait_for(self, arrived: Callable[[], bool]) -> None:
        """Read both ends until something has arrived, or the program has ended."""
        while not arrived():
            ends = [self.report, self.screen] if self.open else [self.report]
            readable, _, _ = select.select(ends, [], [], PATIENCE_S)
            assert readable, f"nothing came any more; said {self.said!r}, shown {self.shown!r}"
            if self.screen in readable:
                self._read_screen()
            if self.report in readable:
                said = os.read(self.report, 4096)
                if not said:
                    return
                self.said += said

    def _read_screen(self) -> None:
        try:
            self.shown += os.read(self.screen, 65536)
        except OSError:  # Linux: the near end is closed
            self.hang_up()

    def hang_up(self) -> None:
        """Close the window."""
        if self.open:
            os.close(self.screen)
            self.open = False

    def end(self) -> int:
        """Wait until the program has ended, and return its exit code."""
        self.wait_for(lambda: False)
        return self.process.wait(PATIENCE_S)

    def close(self) -> None:
        self.hang_up()
        os.close(self.report)
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    """A terminal in which a test of T2A00017 runs."""
    opened = Terminal()
    try:
        opened.wait_for(lambda: READY in opened.shown)
        opened.type(b"T2A00017\rT2A00018\r")  # a burst of two; the first is tested
        opened.wait_for(lambda: b"testing" in opened.said)
        yield opened
    finally:
        opened.close()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_signal_stops_the_test_and_waits_for_it(
    terminal: Terminal, number: signal.Signals
) -> None:
    terminal.process.send_signal(number)
    assert terminal.end() == 0
    assert terminal.said.splitlines() == [b"testing T2A00017", b"stored", b"left with 0"]
    assert b"\x1b[?1049l" in terminal.shown  # xterm: back from the alternate screen


def test_a_closed_window_loses_no_run(terminal: Terminal) -> None:
    terminal.hang_up()
    terminal.end()
    assert terminal.said.splitlines()[:2] == [b"testing T2A00017", b"stored"]


def test_quitting_by_keys_stores_the_run(terminal: Terminal) -> None:
    terminal.type(b"\x11")  # Ctrl+Q
    terminal.wait_for(lambda: b"Stop it and quit?" in terminal.shown)
    terminal.type(b"y")
    assert terminal.end() == 0
    assert terminal.said.splitlines() == [b"testing T2A00017", b"stored", b"left with 0"]


def test_escape_stops_the_test_and_stays(terminal: Terminal) -> None:
    terminal.type(b"\x1b")
    terminal.wait_for(lambda: b"The test was stopped." in terminal.shown)
    assert terminal.said.splitlines() == [b"testing T2A00017", b"stored"]
    terminal.process.send_signal(signal.SIGTERM)
    assert terminal.end() == 0
