"""Clock and disk before every unit, and what was noted, on a simulated line and a real log."""

from __future__ import annotations

import json
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from station.cycle.ready.stationwatch import StationWatch
from station.errors import StationFaultError, UnknownSerialError
from station.hardware.files.disktables import DiskTable
from station.records.log.events import EventLog
from station.records.log.log import RunLog
from tests.cycle.line import BEGIN_UTC, run_unit, simulated_line


class SetClock:
    """A clock that only a test moves."""

    def __init__(self) -> None:
        self.utc = BEGIN_UTC
        self.running_s = 0.0

    def utc_now(self) -> datetime:
        return self.utc

    def monotonic_s(self) -> float:
        return self.running_s

    def wait(self, seconds: float) -> None:
        self.utc += timedelta(seconds=seconds)
        self.running_s += seconds


def events_in(folder: Path) -> list[dict[str, object]]:
    lines = "".join(path.read_text() for path in sorted((folder / "events").glob("*.jsonl")))
    return [json.loads(line) for line in lines.splitlines()]


def test_every_scan_leaves_an_event_with_both_times(tmp_path: Path) -> None:
    with simulated_line(tmp_path, {}) as (cycle, _):
        run_unit(cycle, "T2A00101")
        with pytest.raises(UnknownSerialError):
            run_unit(cycle, "NOT-OURS")
    tested, refused = events_in(tmp_path)
    assert (tested["event"], tested["serial"], tested["verdict"]) == (
        "unit_tested",
        "T2A00101",
        "pass",
    )
    assert (refused["event"], refused["serial"]) == ("unit_not_tested", "NOT-OURS")
    assert all({"utc", "monotonic_s"} <= set(event) for event in (tested, refused))


def test_a_clock_that_somebody_sets_is_noticed_once(tmp_path: Path) -> None:
    clock = SetClock()
    with RunLog.open(tmp_path) as log:
        watch = StationWatch(clock, None, log)
        clock.wait(3600.0)
        assert watch.before_unit() == ()
        clock.utc += timedelta(hours=1)
        assert watch.before_unit() == (
            "The computer's clock was moved by +3600 s: tell the technician.",
        )
        assert watch.before_unit() == ()
    (event,) = events_in(tmp_path)
    assert (event["event"], event["step_s"]) == ("clock_stepped", 3600.0)


def test_a_clock_behind_the_log_stops_the_line_before_it_spoils_the_log(tmp_path: Path) -> None:
    with simulated_line(tmp_path, {}) as (cycle, log):
        run_unit(cycle, "T2A00101")
        clock = SetClock()
        clock.utc = datetime(2001, 1, 1, tzinfo=UTC)
        with pytest.raises(StationFaultError, match=r"The clock says 2001-01-01 00:00 UTC"):
            StationWatch(clock, None, log).before_unit()


def test_a_disk_that_fills_up_warns_and_then_stops(tmp_path: Path) -> None:
    def watch(log: RunLog, warn_gb: float, stop_gb: float) -> StationWatch:
        return StationWatch(
            SetClock(), DiskTable(warn_below_gb=warn_gb, stop_below_gb=stop_gb), log
        )

    most = 1e9  # no disk has so many gigabytes
    with RunLog.open(tmp_path) as log:
        assert watch(log, 1e-6, 1e-9).before_unit() == ()
        (notice,) = watch(log, most, 1e-9).before_unit()
        assert notice.endswith("tell the technician.")
        with pytest.raises(StationFaultError, match="The disk of the log has"):
            watch(log, 2.0 * most, most).before_unit()


def test_events_of_several_threads_keep_their_lines(tmp_path: Path) -> None:
    events = EventLog(tmp_path / "events")

    def write(name: int) -> None:
        for number in range(50):
            events.append(BEGIN_UTC, float(number), "noted", name=name, text="ä" * 200)

    threads = [threading.Thread(target=write, args=(name,)) for name in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    found = events_in(tmp_path)
    assert len(found) == 200
    assert {event["name"] for event in found} == {0, 1, 2, 3}


def test_an_event_that_cannot_be_written_stops_nothing(tmp_path: Path) -> None:
    (tmp_path / "events").write_text("a file where the folder should be")
    EventLog(tmp_path / "events").append(BEGIN_UTC, 0.0, "noted")
    assert (tmp_path / "events").read_text() == "a file where the folder should be"
