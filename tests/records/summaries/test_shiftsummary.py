"""First causes of a shift are counted by what they have in common, whatever their values."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from station.errors import stopped
from station.judging.verdicts.verdict import Cause, Verdict
from station.records.log.log import RunLog
from station.records.summaries.shiftsummary import CauseKind
from tests.records.example import STARTED, example_run

FAIL, VOID = Verdict.FAIL, Verdict.VOID
OVERLOADED = "An input was overloaded."


def outside(reading: str, side: str, size: str) -> Cause:
    words = f"{reading} is {size} {side} its band."
    return Cause(reading, side, -1.0, "dB", 1000.0, 1.0, words)  # type: ignore[arg-type]


def untrusted(reading: str, happened: str) -> Cause:
    return Cause(reading, "untrusted", math.nan, "", None, 0.0, happened)


FIRST_CAUSES = (
    (FAIL, outside("response", "below", "1.2 dB")),
    (FAIL, outside("response", "below", "3.4 dB")),
    (FAIL, outside("response", "below", "0.3 dB")),
    (FAIL, outside("response", "above", "0.3 dB")),
    (VOID, untrusted("microphone", "An input was overloaded (microphone, samples 12.0 samples).")),
    (VOID, untrusted("microphone", "An input was overloaded (microphone, samples 9.0 samples).")),
    (VOID, untrusted("ambient", "An input was overloaded (ambient, samples 3.0 samples).")),
    (VOID, untrusted("room", "A noise in the room, not the unit, put rub outside its limits.")),
    (VOID, untrusted("room", "A noise in the room, not the unit, put thd outside its limits.")),
    (VOID, untrusted("level.panel", "level.panel still moves, by 0.4 dB from one sweep to …")),
    (VOID, untrusted("recording", stopped().happened)),
)


def test_causes_are_counted_by_reading_and_side_and_a_void_by_its_trouble(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        for number, (verdict, cause) in enumerate(FIRST_CAUSES):
            run = example_run(run_id=f"r{number}", serial=f"T2A{number:05}")
            judgement = replace(run.judgement, verdict=verdict, causes=(cause,))
            log.store(replace(run, judgement=judgement))
        summary = log.shift_summary(STARTED, STARTED + timedelta(hours=1))
    assert summary.causes == (
        (CauseKind(FAIL, "response", "below", ""), 3),
        (CauseKind(VOID, "microphone", "untrusted", OVERLOADED), 2),
        (CauseKind(VOID, "room", "untrusted", ""), 2),
        (CauseKind(FAIL, "response", "above", ""), 1),
        (CauseKind(VOID, "ambient", "untrusted", OVERLOADED), 1),
        (CauseKind(VOID, "level.panel", "untrusted", ""), 1),
        (CauseKind(VOID, "recording", "untrusted", "The run was stopped."), 1),
    )
