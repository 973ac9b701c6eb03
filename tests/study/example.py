"""Outcomes made up for tests: no unit was tested."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from station.simulation.products.units import MODELS
from station.study.findings import Findings, findings_of
from station.study.jobs import Job, Key, StudyPlan, jobs_of, ladders_for
from station.study.outcome import Cost, End, Outcome
from station.study.resultsfile import Header

TARN = MODELS[0]
HEADER = Header("tarn2.toml", "ab" * 32, "Tarn 2", "A", 1, {"station": "0"})
FAULTS = ("coil_rub", "wrong_capacitor", "dead_tweeter", "station_loud_room")

Ending = Callable[[Job], End]


def example_plan(good_units: int = 20, units_per_rung: int = 5) -> StudyPlan:
    return StudyPlan(TARN, 1, good_units, units_per_rung, ladders_for(TARN.name, FAULTS))


def outcome(job: Job, end: End, cause: str = "rub", sweeps: int = 1) -> Outcome:
    causes = () if end is End.PASS else (cause, "thd")
    bang_db_spl = job.faults.get("station_bang")
    return Outcome(
        job.key, job.serial, end, sweeps, bang_db_spl, causes, "Do <this> & that.",
        Cost(0.2, 0.05, 0.01 * sweeps),
    )  # fmt: skip


def from_sixty_on(job: Job) -> End:
    """Fail every rub of 60 dB SPL and more and every dead tweeter; void every loud room."""
    if job.faults.get("coil_rub", 0.0) >= 60.0 or "dead_tweeter" in job.faults:
        return End.FAIL
    return End.VOID if "station_loud_room" in job.faults else End.PASS


def made_up(plan: StudyPlan, ending: Ending = from_sixty_on) -> Mapping[Key, Outcome]:
    return {job.key: outcome(job, ending(job)) for job in jobs_of(plan)}


def example_findings(ending: Ending = from_sixty_on) -> Findings:
    plan = example_plan()
    return findings_of(plan, made_up(plan, ending))
