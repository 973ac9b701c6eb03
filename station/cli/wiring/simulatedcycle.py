"""A cycle on a simulated line: what the operator's tests come to changes what arrives next."""

from __future__ import annotations

import threading

from station.cycle.allowed.operatordesk import OperatorDesk
from station.cycle.unit.report import ProgressCallback, UnitReport
from station.cycle.unit.unitcycle import UnitCycle
from station.diagnosis.named.suspect import Diagnosis
from station.judging.verdicts.verdict import Verdict
from station.records.summaries.shift import ShiftCount
from station.simulation.factory.line import Answer, SimulatedLine

ANSWERS: dict[Verdict, Answer] = {
    Verdict.PASS: "pass",
    Verdict.FAIL: "fail",
    Verdict.VOID: "void",
}


class SimulatedLineCycle:
    """Tests units like the cycle it holds, and lets the line know how each test ended."""

    def __init__(self, cycle: UnitCycle, line: SimulatedLine) -> None:
        self._cycle = cycle
        self._line = line

    @property
    def desk(self) -> OperatorDesk | None:
        """Where operators sign in; None where nobody has to."""
        return self._cycle.desk

    def model_of(self, serial: str) -> tuple[str, str]:
        """Return model and revision of a serial number; raise UnknownSerialError."""
        return self._cycle.model_of(serial)

    def test_unit(
        self, serial: str, *, on_progress: ProgressCallback, stop: threading.Event
    ) -> UnitReport:
        """Test a unit; a test that was stopped or could not begin changes nothing on the line."""
        report = self._cycle.test_unit(serial, on_progress=on_progress, stop=stop)
        judgement = report.final.judgement
        self._line.tell(serial, ANSWERS[judgement.verdict], judgement.next_step)
        return report

    def suspects_of(self, report: UnitReport) -> Diagnosis | None:
        """Return who is suspected of a fail; None if the unit did not fail."""
        return self._cycle.suspects_of(report)

    def make_safe(self) -> None:
        """Silence the output and cut the unit off."""
        self._cycle.make_safe()

    def shift_so_far(self) -> ShiftCount:
        """Return how the units of this shift stand, from the log."""
        return self._cycle.shift_so_far()
