"""A production that tests make up: units by the hundred, through the real log."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np

from station.analysis.readings import Number, Readings
from station.judging.verdicts.verdict import Cause, Judgement, Margin, Verdict
from station.records.kept.run import Run, SetApart
from station.records.log.log import RunLog
from tests.records.example import SETUP, example_run

LIMITS = """format = 1
[[bands]]
reading = "response"
points = [[100.0, -1.0, 1.0], [1000.0, -1.0, 1.0]]
[[numbers]]
reading = "sensitivity"
lower = 85.0
upper = 88.0
[[numbers]]
reading = "fs"
lower = 54.0
[decision]
rule = "guarded"
k = 2.0
r = 1.0
[[decision.uncertainties]]
reading = "sensitivity"
standard = 0.05
"""
STATION = '[check]\nserials = ["T2A00000"]\n'
BEGAN = datetime(2026, 11, 23, 5, 0, tzinfo=UTC)
HOUSE = replace(SETUP, limit_text=LIMITS, station_text=STATION)
EVERY = 20  # units from one test of the reference unit to the next


@dataclass(frozen=True, slots=True)
class Story:
    """What moves from which unit on, in dB of the sensitivity; `marked` runs say what they are."""

    units: int = 200
    moves_at: int = 120
    product_db: float = 0.0
    station_db: float = 0.0
    seed: int = 5
    marked: bool = False


def stored(log: RunLog, story: Story) -> None:
    """Write a production: every twentieth scan is the reference unit's."""
    chance = np.random.default_rng(story.seed)
    for n in range(story.units):
        if n % EVERY == 0:
            level_db = 86.0 + chance.normal(0.0, 0.02) + moved(n, story.station_db, story)
            check = run_of_unit(f"ref{n}", "T2A00000", n, level_db, chance.normal(56.0, 0.5))
            log.store(replace(check, set_apart=SetApart.CHECK if story.marked else None))
        off_db = moved(n, story.station_db + story.product_db, story)
        level_db = 86.5 + chance.normal(0.0, 0.2) + off_db
        log.store(run_of_unit(f"r{n}", f"T2A{n + 1:05d}", n, level_db, chance.normal(56.0, 0.5)))


def moved(n: int, by_db: float, story: Story) -> float:
    """Return by how much a level has moved at a unit."""
    return by_db if n >= story.moves_at else 0.0


def run_of_unit(
    run_id: str,
    serial: str,
    n: int,
    level_db: float,
    fs_hz: float,
    *,
    attempt: int = 1,
    verdict: Verdict | None = None,
) -> Run:
    """Return a run of a unit; it fails where its level lies outside its limits."""
    margin = min(level_db - 85.0, 88.0 - level_db)
    said = verdict or (Verdict.PASS if margin >= 0.0 else Verdict.FAIL)
    side = "below" if level_db < 86.5 else "above"
    causes = (
        ()
        if said is Verdict.PASS
        else (Cause("sensitivity", side, margin, "dB", None, -margin, "It is off.", "Look."),)
    )
    return example_run(
        run_id=run_id,
        serial=serial,
        attempt=attempt,
        started_utc=BEGAN + timedelta(seconds=70 * n),
        readings=Readings({"sensitivity": Number(level_db, "dB"), "fs": Number(fs_hz, "Hz")}),
        judgement=Judgement(said, causes, "", {"sensitivity": Margin(margin, "dB", None)}),
        setup=HOUSE,
    )
