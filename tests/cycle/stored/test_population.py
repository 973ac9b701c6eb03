from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from station.analysis.readings import Curve, Readings
from station.analysis.signals.bands import band_centres
from station.cycle.stored.population import learned_pattern
from station.errors import RefusedInputError
from station.judging.files.limit_file import limit_file_from_text
from station.judging.verdicts.verdict import Judgement, Verdict
from station.records.kept.run import Run, Setup
from station.records.log.log import RunLog
from tests.cycle.line import BEGIN_UTC
from tests.judging.example import LIMITS

FILE = limit_file_from_text(LIMITS, "x.toml")
HZ = band_centres(100.0, 10000.0, 3)
SETUP = Setup("x.toml", LIMITS, "bench", "", {})


def run(number: int, serial: str, verdict: Verdict, hz: np.ndarray = HZ) -> Run:
    rng = np.random.default_rng(number)
    values = 86.0 + rng.standard_normal() + 0.1 * rng.standard_normal(hz.size)
    return Run(
        run_id=f"run-{number:04d}", serial=serial, model="Tarn 2", revision="A", attempt=1,
        simulated=True, started_utc=BEGIN_UTC + timedelta(seconds=number),
        monotonic_s=float(number),
        readings=Readings(curves={"response": Curve(hz, values, "dB")}),
        judgement=Judgement(verdict, (), ""), setup=SETUP, recording=None,
    )  # fmt: skip


@pytest.fixture
def log(tmp_path: Path) -> RunLog:
    return RunLog.open(tmp_path)


def test_members_are_the_units_whose_newest_run_passed(log: RunLog) -> None:
    with log:
        for number in range(40):
            log.store(run(number, f"T2A{number:05d}", Verdict.PASS))
        log.store(run(50, "T2A00003", Verdict.FAIL))
        log.store(run(51, "T2A00100", Verdict.FAIL))
        log.store(run(52, "T2A00100", Verdict.PASS))
        log.store(run(53, "T2A00101", Verdict.PASS, band_centres(100.0, 5000.0, 3)))
        log.store(replace(run(54, "T2B00001", Verdict.PASS), revision="B"))
        learned = learned_pattern(log, FILE, "response", 0.9)
    members = set(learned.pattern.model.member_ids)
    wanted = {f"T2A{number:05d}" for number in range(40)} - {"T2A00003"} | {"T2A00100"}
    assert members == wanted
    assert (learned.not_passed, learned.other_frequencies) == (1, 1)


def test_too_few_units_and_unknown_curves_are_refused(log: RunLog) -> None:
    with log:
        log.store(run(1, "T2A00001", Verdict.PASS))
        with pytest.raises(RefusedInputError, match="too few"):
            learned_pattern(log, FILE, "response", 0.9)
        with pytest.raises(RefusedInputError, match="does not compute"):
            learned_pattern(log, FILE, "thd", 0.9)
