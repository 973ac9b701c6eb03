"""A real cycle on a real log in a process of its own, which the durability studies do harm to.

The process is forked, so that it begins at once; what it has shown arrives through a pipe. Its
audio device plays back what a simulated unit once sounded like, because simulating takes longer
than all the rest.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from station.cli.wiring.startinglog import log_for_line
from station.errors import StationError
from station.hardware.protocols.audio import Capture, FloatArray, MeterCallback
from station.records.keeping.verification import files_states, log_state
from station.records.kept.run import Run
from station.records.log.log import RunLog
from tests.cycle.line import SteadyClock, run_unit, simulated_line

SERIALS_PER_CHILD = 60  # more than a child comes to


class PlayedBack:
    """Whatever is played, it returns the recording of one good unit."""

    def __init__(self, capture: Capture, rate_hz: float) -> None:
        self._capture = capture
        self.rate_hz = rate_hz

    def play_and_record(
        self, output: FloatArray, *, on_meter: MeterCallback, stop: threading.Event
    ) -> Capture:
        return self._capture

    def silence(self) -> None:
        pass

    def close(self) -> None:
        pass


class Recorder(PlayedBack):
    """Keeps what the simulated device delivered."""

    def __init__(self, logs: Path) -> None:
        self._logs = logs
        self.kept: list[Capture] = []

    def record(self) -> PlayedBack:
        """Test one good unit, and return a device that plays it back."""
        with simulated_line(self._logs, {"T2A00001": {}}) as (cycle, _):
            twin = cycle._bench.audio
            inner = twin.play_and_record

            def keep(output: FloatArray, **options: object) -> Capture:
                self.kept.append(inner(output, **options))  # type: ignore[arg-type]
                return self.kept[-1]

            twin.play_and_record = keep  # type: ignore[method-assign]
            run_unit(cycle, "T2A00001")
            return PlayedBack(self.kept[-1], twin.rate_hz)


@cache
def good_unit(logs: Path) -> PlayedBack:
    """Return a device that plays back a good unit."""
    return Recorder(logs).record()


@dataclass(frozen=True, slots=True)
class Shown:
    """What one child showed before it ended, and how it ended."""

    runs: tuple[tuple[str, str], ...]  # serial and run id, each shown once it was stored
    errors: tuple[str, ...]
    opened: bool  # the log was open before the end


def child(
    logs: Path,
    audio: PlayedBack,
    first: int,
    units: int,
    harm: Callable[[], None],
    report: int,
) -> None:
    """Test units on and on, and say which were shown; `harm` is done when the child begins."""

    def say(words: str) -> None:
        os.write(report, f"{words}\n".encode())

    harm()
    try:
        log_for_line(logs, SteadyClock()).close()
        numbers = iter(range(1_000_000))

        def new_id() -> str:
            return f"c{first}-{next(numbers)}"

        serials = [f"T2A{first + n:05d}" for n in range(units)]
        with simulated_line(
            logs, {serial: {} for serial in serials}, audio=audio, new_run_id=new_id
        ) as (cycle, _):
            say("open")
            for serial in serials:
                try:
                    tested = run_unit(cycle, serial)
                except StationError as error:
                    say(f"error {error}")
                    continue
                say(f"shown {serial} {tested.final.run_id}")
    except StationError as error:
        say(f"error {error}")


def outcome(
    logs: Path,
    audio: PlayedBack,
    first: int,
    *,
    kill_after_s: float | None,
    units: int = SERIALS_PER_CHILD,
    harm: Callable[[], None] = lambda: None,
) -> Shown:
    """Run a child, kill it after a while if that is asked for, and return what it had shown."""
    reading, report = os.pipe()
    process = os.fork()
    if process == 0:
        os.close(reading)
        os.setsid()
        try:
            child(logs, audio, first, units, harm, report)
        finally:
            os._exit(0)
    os.close(report)
    timer = None
    if kill_after_s is not None:
        timer = threading.Timer(kill_after_s, os.killpg, (process, signal.SIGKILL))
        timer.start()
    with os.fdopen(reading, "rb") as told:
        lines = told.read().decode().split("\n")[:-1]  # what follows the last newline was not told
    os.waitpid(process, 0)
    if timer is not None:
        timer.cancel()
        timer.join()
    return Shown(
        tuple(tuple(line.split()[1:]) for line in lines if line.startswith("shown")),  # type: ignore[misc]
        tuple(line.removeprefix("error ") for line in lines if line.startswith("error")),
        "open" in lines,
    )


@dataclass(frozen=True, slots=True)
class Balance:
    """What became of everything that was shown; every field but `stored` should be 0."""

    stored: int
    lost: int
    half_written: int
    double: int
    broken: str


def balance(logs: Path, shown: list[Shown]) -> Balance:
    """Compare what was shown with what is in the log."""
    with RunLog.open(logs) as log:
        runs = tuple(all_runs(log))
        changed = sum(
            1
            for run in runs
            if run.recording is not None and not log.recording_unchanged(run.recording)
        )
        fault = log.chain_fault()
    stored = {run.run_id for run in runs}
    told = [run_id for one in shown for _, run_id in one.runs]
    attempts = [(run.serial, run.attempt) for run in runs]
    state = log_state(logs)
    files = files_states(logs)
    return Balance(
        len(runs),
        len(set(told) - stored),
        changed + sum(len(one.missing) for one in files),
        len(runs) - len(stored) + len(attempts) - len(set(attempts)) + len(told) - len(set(told)),
        str(fault or "") + state.structure + "".join(state.lost),
    )


def all_runs(log: RunLog) -> Iterator[Run]:
    """Yield every run."""
    with log.reading() as connection:
        serials = [row[0] for row in connection.execute("SELECT DISTINCT serial FROM runs")]
    for serial in serials:
        yield from log.runs_of(serial)
