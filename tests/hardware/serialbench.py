"""Serial devices for tests: a process that plays them, and drivers on its pseudo-terminals."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from station.hardware.attached.serialfixture import SerialFixture
from station.hardware.files.serialtables import FixtureTable
from station.hardware.ports.serialport import SerialPort
from station.hardware.protocols.clock import SystemClock
from tests.hardware.wires import FIXTURE

PROGRAM = Path(__file__).with_name("serial_process.py")
BAUD = 115200


@dataclass(frozen=True)
class SerialBench:
    """The running process; `tell` returns the time at which it did what it was told."""

    folder: Path
    process: subprocess.Popen[str]

    def tell(self, words: str) -> float:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(f"{words}\n")
        self.process.stdin.flush()
        return float(self.process.stdout.readline())

    def port(self, name: str) -> Callable[[], SerialPort]:
        path = str(self.folder / name)
        return lambda: SerialPort(path, BAUD)

    def fixture_table(self, **changes: object) -> FixtureTable:
        fields = FIXTURE.model_dump() | {"port": str(self.folder / "fixture")} | changes
        return FixtureTable.model_validate(fields)

    @contextmanager
    def fixture(self, **changes: object) -> Iterator[SerialFixture]:
        """Hold the fixture's driver."""
        fixture = SerialFixture(self.fixture_table(**changes), self.port("fixture"), SystemClock())
        try:
            yield fixture
        finally:
            fixture.close()


@contextmanager
def serial_bench(folder: Path, name: str = "line-1", *faults: str) -> Iterator[SerialBench]:
    """Run the process until left."""
    folder.mkdir(exist_ok=True)
    command = [sys.executable, str(PROGRAM), str(folder), name, *faults]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        try:
            yield SerialBench(folder, process)
        finally:
            assert process.stdin is not None
            process.stdin.close()
            process.wait(timeout=20)
