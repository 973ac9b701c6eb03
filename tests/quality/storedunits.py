"""Made-up units as runs of the log, judged by the limits they were tested with."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

from station.analysis.measure import Measured
from station.analysis.readings import Readings
from station.judging.verdicts.judge import judge
from station.records.kept.run import Run, Setup
from tests.judging.example import LIMITS
from tests.quality.populations import FILE
from tests.records.example import STARTED, example_run

SETUP = Setup("x.toml", LIMITS, "bench", "", {})


def stored(readings: list[Readings], first: int = 0) -> Iterator[Run]:
    for number, unit in enumerate(readings, start=first):
        yield replace(
            example_run(), run_id=f"r{number}", serial=f"T2A{number:05d}", setup=SETUP,
            started_utc=STARTED + timedelta(minutes=number), readings=unit,
            judgement=judge(Measured(unit, ()), FILE),
        )  # fmt: skip
