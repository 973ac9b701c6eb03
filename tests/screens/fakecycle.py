"""A cycle without a station: it gives the answer a test asks for, when the test lets it."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from datetime import UTC, datetime

import numpy as np

from station.analysis.readings import Readings
from station.cycle.unit.report import Progress, ProgressCallback, Stage, UnitReport
from station.diagnosis.named.suspect import Diagnosis
from station.errors import AudioError, RecordsError, StoppedError, UnknownSerialError
from station.judging.verdicts.verdict import AppliedBand, Cause, Judgement, Margin, Verdict
from station.records.kept.run import Run, Setup
from station.records.summaries.shift import LastUnit, ShiftCount

PATIENCE_S = 30.0  # a gate that stays shut so long fails the test
SETUP = Setup("tarn2.toml", "", "line 1", "", {})
STOPPED = StoppedError("The test was stopped.", "Scan the unit again when it is ready.")


class FakeCycle:
    """Answers by serial number, when `gate` is open and, if told so, the stop was asked for."""

    def __init__(
        self,
        answers: Mapping[str, UnitReport | Exception] | None = None,
        *,
        gate_open: bool = True,
        until_stopped: bool = False,
        log_broken: bool = False,
    ) -> None:
        self.answers = dict(answers or {})
        self.until_stopped = until_stopped
        self.log_broken = log_broken
        self.running = threading.Event()
        self.stopping = threading.Event()
        self.gate = threading.Event()
        if gate_open:
            self.gate.set()
        self.began: list[str] = []
        self.ended: list[str] = []
        self.counted = ShiftCount(0, 0, 0, ())
        self.made_safe = 0
        self.unsafe: Exception | None = None
        self.suspected: Diagnosis | Exception | None = None

    def model_of(self, serial: str) -> tuple[str, str]:
        if serial not in self.answers:
            raise UnknownSerialError(
                f"No limit file claims the serial number {serial}.", "Check the label."
            )
        return "Tarn 2", "A"

    def test_unit(
        self, serial: str, *, on_progress: ProgressCallback, stop: threading.Event
    ) -> UnitReport:
        self.began.append(serial)
        on_progress(Progress(Stage.SECURING, 1))
        on_progress(Progress(Stage.SWEEPING, 1, 0.5, -12.0))
        self.running.set()
        try:
            if self.until_stopped:
                if not stop.wait(PATIENCE_S):
                    raise AssertionError("nobody stopped the test")
                on_progress(Progress(Stage.STORING, 1))
                self.stopping.set()
            if not self.gate.wait(PATIENCE_S):
                raise AssertionError("nobody opened the gate")
            answer = STOPPED if stop.is_set() else self.answers[serial]
            if isinstance(answer, Exception):
                raise answer
            self._count(answer)
            return answer
        finally:
            self.ended.append(serial)

    def suspects_of(self, report: UnitReport) -> Diagnosis | None:
        if report.final.judgement.verdict is not Verdict.FAIL:
            return None
        if isinstance(self.suspected, Exception):
            raise self.suspected
        return self.suspected

    def make_safe(self) -> None:
        self.made_safe += 1
        if self.unsafe is not None:
            raise self.unsafe

    def shift_so_far(self) -> ShiftCount:
        if self.log_broken:
            raise RecordsError("The log cannot be read.", "Check the disk.")
        return self.counted

    def _count(self, report: UnitReport) -> None:
        run = report.final
        verdict = run.judgement.verdict
        cause = run.judgement.causes[0].reading if run.judgement.causes else ""
        now = self.counted
        self.counted = ShiftCount(
            now.passed + (verdict is Verdict.PASS),
            now.failed + (verdict is Verdict.FAIL),
            now.void + (verdict is Verdict.VOID),
            (LastUnit(run.serial, run.model, verdict, cause), *now.last),
        )


def example_band(*, dip_db: float = 0.0) -> AppliedBand:
    """Return a made-up response in a band of ±2 dB, with a dip of one octave around 2 kHz."""
    frequency_hz = np.geomspace(20.0, 20000.0, 121)
    target_db = 86.0 - 10.0 * np.log10(1.0 + (55.0 / frequency_hz) ** 4)
    near = np.abs(np.log2(frequency_hz / 2000.0)) < 0.5
    values = target_db - np.where(near, dip_db, 0.0)
    lower = np.where(frequency_hz < 40.0, -np.inf, target_db - 2.0)
    upper = target_db + 2.0
    outside = ((values < lower) | (values > upper)).astype(np.float64)
    return AppliedBand(frequency_hz, values, lower, upper, outside, "dB")


def report(serial: str, *judgements: Judgement) -> UnitReport:
    """Return the runs of one unit, one for each judgement."""
    return UnitReport(
        tuple(
            Run(
                f"run-{attempt}",
                serial,
                "Tarn 2",
                "A",
                attempt,
                True,
                datetime(2026, 1, 5, 6, 0, tzinfo=UTC),
                0.0,
                Readings(),
                judgement,
                SETUP,
                None,
            )
            for attempt, judgement in enumerate(judgements, start=1)
        )
    )


PASSED = Judgement(
    Verdict.PASS,
    (),
    "Take the unit out and put it with the good ones.",
    {"response": Margin(0.83, "dB", 2400.0)},
    {"response": example_band()},
)
FAILED = Judgement(
    Verdict.FAIL,
    (
        Cause("response", "below", -2.34, "dB", 2400.0, 3.0, "The response is too low.", "Look."),
        Cause("polarity.tweeter", "below", -1.44, "ratio", None, 2.0, "Reversed."),
    ),
    "Tweeter weak: check its leads and its series capacitor.",
    {"response": Margin(-2.34, "dB", 2400.0)},
    {"response": example_band(dip_db=4.0)},
)
VOID = Judgement(
    Verdict.VOID,
    (
        Cause(
            "microphone",
            "untrusted",
            float("nan"),
            "",
            None,
            1.0,
            "The microphone heard nothing.",
            "Check its cable.",
        ),
    ),
    "Check the microphone cable, then scan the same unit again.",
)

PASS_SERIAL, FAIL_SERIAL, VOID_SERIAL = "T2A00017", "T2A00018", "T2A00019"
ERROR_SERIAL, BUG_SERIAL = "T2A00020", "T2A00021"
ANSWERS: Mapping[str, UnitReport | Exception] = {
    PASS_SERIAL: report(PASS_SERIAL, PASSED),
    FAIL_SERIAL: report(FAIL_SERIAL, FAILED),
    VOID_SERIAL: report(VOID_SERIAL, VOID),
    ERROR_SERIAL: AudioError("The audio device stopped delivering.", "Check its cable."),
    BUG_SERIAL: ZeroDivisionError("a bug"),
}
