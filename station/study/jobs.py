"""What a study tests: good units, and units with each fault at each severity, one by one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from station.simulation.faults import FAULTS, checked_faults, fault_of
from station.simulation.products.units import SimulatedModel
from station.study.ladders import SeverityLadder, ladders_of
from station.study.serials import drawn_serials, generator

GOOD = "good"
BANG = "station_bang"
NOT_IN_A_TEST = frozenset({"station_calibrator_error"})  # it shows only while calibrating
BANG_RATIO = 1.0 / 20.0  # of the sweeps in a factory
BANG_FROM_DB_SPL, BANG_TO_DB_SPL = 75.0, 95.0  # peak: something drops, nearer or further off


@dataclass(frozen=True, slots=True)
class Key:
    """Which unit of a study this is: of what group, at which severity, and its count there."""

    group: str
    severity: float
    number: int


@dataclass(frozen=True, slots=True)
class Job:
    """One unit to be tested; `faults` holds those of the unit and of the station."""

    key: Key
    serial: str
    faults: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class StudyPlan:
    """What is studied, and with how many units."""

    model: SimulatedModel
    seed: int
    good_units: int
    units_per_rung: int
    ladders: tuple[SeverityLadder, ...]


def ladders_for(model: str, names: Sequence[str] | None) -> tuple[SeverityLadder, ...]:
    """Return the ladders of named faults, or of all that can show in a test of a model.

    Raises
    ------
    RefusedInputError
        If there is no such fault, or it cannot occur on the model.
    """
    if names is None:
        possible = [fault for fault in FAULTS if model in fault.models]
        faults = [fault for fault in possible if fault.name not in NOT_IN_A_TEST]
    else:
        faults = [fault_of(name) for name in dict.fromkeys(names)]
    for fault in faults:
        checked_faults(model, {fault.name: fault.default})
    return tuple(ladder for fault in faults for ladder in ladders_of(fault))


def jobs_of(plan: StudyPlan) -> Iterator[Job]:
    """Yield every unit of a study; a larger study begins with the units of a smaller one."""
    yield from good_jobs(plan)
    for ladder in plan.ladders:
        yield from ladder_jobs(plan, ladder)


def good_jobs(plan: StudyPlan) -> Iterator[Job]:
    """Yield good units in the noise of a factory."""
    serials = drawn_serials(plan.model, plan.seed, GOOD)
    bangs = factory_bangs(plan.seed, GOOD)
    for number in range(plan.good_units):
        yield Job(Key(GOOD, 0.0, number), next(serials), next(bangs))


def ladder_jobs(plan: StudyPlan, ladder: SeverityLadder) -> Iterator[Job]:
    """Yield units with one fault, fresh ones at every rung, so that rungs are independent.

    A fault of the station is studied in an otherwise quiet factory.
    """
    serials = drawn_serials(plan.model, plan.seed, ladder.name)
    bangs = factory_bangs(plan.seed, ladder.name)
    for number in range(plan.units_per_rung):
        for severity in ladder.severities:
            planted = {ladder.fault.name: severity}
            around = {} if ladder.of_station else next(bangs)
            yield Job(Key(ladder.name, severity, number), next(serials), {**planted, **around})


def factory_bangs(seed: int, purpose: str) -> Iterator[Mapping[str, float]]:
    """Yield, for unit after unit, no bang or the one that comes during its first sweep."""
    rng = generator(seed, f"{purpose}/bangs")
    while True:
        bang, level_db_spl = rng.random(), rng.uniform(BANG_FROM_DB_SPL, BANG_TO_DB_SPL)
        yield {BANG: float(level_db_spl)} if bang < BANG_RATIO else {}
