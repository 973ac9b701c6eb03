"""What is looked at before every unit besides check and calibration: the clock and the disk.

The log is for ever, so a wrong time in it would be too; and what cannot be kept must not be
measured. What was noticed, and how each test ended, goes into the log of events.
"""

from __future__ import annotations

import shutil
from datetime import datetime, timedelta
from pathlib import Path

from station.cycle.calibration.calibrationstate import day_words
from station.errors import StationFaultError
from station.hardware.files.disktables import DiskTable
from station.hardware.protocols.clock import Clock
from station.records.log.events import EventLog, Fact
from station.records.log.log import RunLog

# A clock that a time server trims moves by milliseconds; one that somebody sets, by much more.
STEP_S = 2.0
# Two stations on one log may differ by so much before one of them is wrong.
AHEAD = timedelta(minutes=5)
GIGABYTE = 1e9


class StationWatch:
    """Watches clock and disk from unit to unit."""

    def __init__(self, clock: Clock, disk: DiskTable | None, log: RunLog) -> None:
        self._clock = clock
        self._disk = disk
        self._log = log
        self._events = EventLog(log.events_folder)
        self._offset_s = self._wall_clock_ahead_s()

    def note(self, event: str, **facts: Fact) -> None:
        """Write one event with both times."""
        self._events.append(self._clock.utc_now(), self._clock.monotonic_s(), event, **facts)

    def before_unit(self) -> tuple[str, ...]:
        """Return what the operator should pass on; refuse what would spoil the log.

        Raises
        ------
        StationFaultError
            If the clock is behind the newest run of the log, or the disk has no room.
        """
        notices = (self._clock_step(), self._little_room(self._log.events_folder.parent))
        self._refuse_a_clock_in_the_past()
        return tuple(notice for notice in notices if notice)

    def _wall_clock_ahead_s(self) -> float:
        """Return the wall clock's distance from the monotonic clock, which only a step changes."""
        return self._clock.utc_now().timestamp() - self._clock.monotonic_s()

    def _clock_step(self) -> str:
        """Say that somebody set the clock since the last look, and take it as it is now."""
        offset_s = self._wall_clock_ahead_s()
        step_s = offset_s - self._offset_s
        if abs(step_s) < STEP_S:
            return ""
        self._offset_s = offset_s
        self.note("clock_stepped", step_s=round(step_s, 3))
        return f"The computer's clock was moved by {step_s:+.0f} s: tell the technician."

    def _refuse_a_clock_in_the_past(self) -> None:
        newest_utc: datetime | None = self._log.newest_run_utc()
        now_utc = self._clock.utc_now()
        if newest_utc is None or newest_utc <= now_utc + AHEAD:
            return
        self.note("clock_behind", newest_run_utc=newest_utc.isoformat())
        raise StationFaultError(
            f"The clock says {day_words(now_utc)}, but the newest run of the log is of "
            f"{day_words(newest_utc)}.",
            "Set the computer's clock, then scan again.",
        )

    def _little_room(self, folder: Path) -> str:
        """Say that the disk fills up; refuse where it has."""
        if self._disk is None:
            return ""
        free_gb = shutil.disk_usage(folder).free / GIGABYTE
        if free_gb >= self._disk.warn_below_gb:
            return ""
        self.note("disk_low", free_gb=round(free_gb, 3))
        if free_gb < self._disk.stop_below_gb:
            raise StationFaultError(
                f"The disk of the log has {free_gb:.1f} GB left.",
                "Call the technician: copies of old recordings must make room.",
            )
        return f"The disk of the log has {free_gb:.1f} GB left: tell the technician."
