"""What the operator's screen needs of the station."""

from __future__ import annotations

import threading
from typing import Protocol

from station.cycle.unit.report import ProgressCallback, UnitReport
from station.diagnosis.named.suspect import Diagnosis
from station.records.kept.run import Operator
from station.records.summaries.shift import ShiftCount


class Cycle(Protocol):
    """What the screen needs of the test cycle."""

    def model_of(self, serial: str) -> tuple[str, str]:
        """Return model and revision of a serial number; raise UnknownSerialError."""

    def test_unit(
        self, serial: str, *, on_progress: ProgressCallback, stop: threading.Event
    ) -> UnitReport:
        """Test a unit and return when every run of it is stored; raise StationError."""

    def suspects_of(self, report: UnitReport) -> Diagnosis | None:
        """Return who is suspected of a fail, None without one; takes a moment."""

    def make_safe(self) -> None:
        """Silence the output and cut the unit off, at once; raise StationError."""

    def shift_so_far(self) -> ShiftCount:
        """Return the counters of the shift; raise StationError."""


class Desk(Protocol):
    """What the screen needs where operators sign in."""

    def is_badge(self, scanned: str) -> bool:
        """Return whether a scan is a badge, and no serial number."""

    @property
    def operator(self) -> Operator | None:
        """Who has signed in."""

    def sign_in(self, badge: str) -> Operator:
        """Sign in whose badge it is; raise StationError."""

    def sign_out(self) -> None:
        """Sign out whoever has signed in; raise StationError."""
