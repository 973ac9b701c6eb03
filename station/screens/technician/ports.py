"""What the technician's screen needs of the desk, of the printer, and of the pictures."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from station.cycle.unit.report import ProgressCallback
from station.judging.verdicts.verdict import AppliedBand
from station.service.dossier import Dossier
from station.service.servicetest import ServiceTest


class Desk(Protocol):
    """What the screen needs of the technician's desk."""

    def look_up(self, serial: str, revision: str | None = None) -> Dossier:
        """Return what is known of a unit; raise StationError."""

    def last_test(self, dossier: Dossier) -> ServiceTest | None:
        """Return the newest test of the service under way, None if something was done since."""

    def open(self, serial: str, by: str, complaint: str, revision: str | None = None) -> object:
        """Begin a service; raise StationError."""

    def test(
        self,
        serial: str,
        by: str,
        *,
        service_revision: str | None = None,
        on_progress: ProgressCallback,
        stop: threading.Event,
    ) -> ServiceTest:
        """Test a unit in service; raise StationError."""

    def replace_part(self, serial: str, by: str, part: str, batch: str, reason: str) -> None:
        """Note a part that was replaced; raise StationError."""

    def confirm_cause(self, serial: str, by: str, part: str, words: str) -> None:
        """Note the part that was at fault; raise StationError."""

    def check_partner(self, serial: str, by: str, partner: str) -> object:
        """Compare with the other unit of the pair; raise StationError."""

    def close(self, serial: str, by: str, words: str = "") -> None:
        """End the service; raise StationError."""


class Printer(Protocol):
    """What writes paper for a unit."""

    def certificate(self, serial: str) -> tuple[Path, ...]:
        """Write the certificate and return its files; raise StationError."""

    def rework_card(self, serial: str) -> tuple[Path, ...]:
        """Write the rework card and return its files; raise StationError."""


@dataclass(frozen=True, slots=True, eq=False)
class Views:
    """What is drawn of a test, against its limits and as built, and who is suspected of a fail.

    `reading` is the one that is drawn against its limits.
    """

    by_limits: AppliedBand | None
    as_built: AppliedBand | None
    suspect: str = ""
    reading: str = ""
