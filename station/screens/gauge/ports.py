"""What the screens of a gauge study need of the station."""

from __future__ import annotations

import threading
from typing import Protocol

from station.cycle.unit.report import ProgressCallback
from station.quality.gauge.desk import Study
from station.quality.gauge.findings import GaugeFindings
from station.records.kept.gauge import GaugeStep
from station.records.kept.run import Run


class GaugeBench(Protocol):
    """Studies, and a bench to carry them out on, held from `hold` to `let_go`."""

    @property
    def simulated(self) -> bool:
        """Whether units and bench are simulated."""

    def studies(self) -> tuple[Study, ...]:
        """Return every study, oldest first; raise StationError."""

    def study(self, study_id: str) -> Study:
        """Return a study as it stands; raise StationError."""

    def plan(self, *, units: str, operators: str, repeats: str, by: str, title: str) -> Study:
        """Store a plan; units and operators stand between commas. Raise StationError."""

    def hold(self) -> None:
        """Take the bench, which nobody else can have then; raise StationError."""

    def let_go(self) -> None:
        """Give the bench back, after a running measurement has ended."""

    def greet(self, scanned: str, operator: str) -> None:
        """Let an operator begin by badge or, where there are none, name; raise StationError."""

    def measure(
        self, study: Study, step: GaugeStep, *, on_progress: ProgressCallback, stop: threading.Event
    ) -> Run:
        """Carry out a step; raise StationError."""

    def findings(self, study_id: str) -> GaugeFindings:
        """Return what a complete study found; raise StationError."""
