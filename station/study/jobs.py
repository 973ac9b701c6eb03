"""What a study tests: good units, and units with each fault at each severity, one by one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from station.errors import RefusedInputError
from station.simulation.faults import FAULTS, checked_faults, fault_of
from station.simulation.products.units import SimulatedModel
from station.study.ladders import SeverityLadder, ladders_of, single_rung
from station.study.serials import drawn_serials, generator

GOOD = "good"
BANG = "station_bang"
NOT_IN_A_TEST = frozenset({"station_calibrator_error"})  # it shows only while calibrating
BANG_RATIO = 1.0 / 20.0  # of the sweeps in a factory
BANG_FROM_DB_SPL, BANG_TO_DB_SPL = 75.0, 95.0  # peak: something drops, nearer or further off
HALL = "station_hot_room"  # the temperature, also where it is as it should be
HALL_FROM_C, HALL_TO_C = 18.5, 22.5  # in the morning and in the afternoon
AT = "="  # between the name of a fault and the one severity to plant it at


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

    A name may state the one severity to be planted: `coil_rub=62`.

    Raises
    ------
    RefusedInputError
        If there is no such fault, or it cannot occur on the model or be so severe.
    """
    if names is None:
        possible = [fault.name for fault in FAULTS if model in fault.models]
        names = [name for name in possible if name not in NOT_IN_A_TEST]
    return tuple(
        ladder for name in dict.fromkeys(names) for ladder in ladders_of_named(model, name)
    )


def ladders_of_named(model: str, named: str) -> tuple[SeverityLadder, ...]:
    """Return the ladders of one fault, a single rung if its severity is stated."""
    name, at, stated = named.partition(AT)
    fault = fault_of(name.strip())
    severity = stated_severity(named, stated) if at else fault.default
    checked_faults(model, {fault.name: severity})
    return (single_rung(fault, severity),) if at else ladders_of(fault)


def stated_severity(named: str, stated: str) -> float:
    """Return a severity as a number; raise RefusedInputError if it is none."""
    try:
        return float(stated)
    except ValueError as error:
        raise RefusedInputError(
            f"{named!r} does not state a severity.", "Write NAME=NUMBER, or the name alone."
        ) from error


def jobs_of(plan: StudyPlan) -> Iterator[Job]:
    """Yield every unit of a study; a larger study begins with the units of a smaller one."""
    yield from good_jobs(plan)
    for ladder in plan.ladders:
        yield from ladder_jobs(plan, ladder)


def good_jobs(plan: StudyPlan) -> Iterator[Job]:
    """Yield good units in the noise and at the temperatures of a factory."""
    serials = drawn_serials(plan.model, plan.seed, GOOD)
    around = surroundings(plan.seed, GOOD)
    for number in range(plan.good_units):
        yield Job(Key(GOOD, 0.0, number), next(serials), next(around))


def ladder_jobs(plan: StudyPlan, ladder: SeverityLadder) -> Iterator[Job]:
    """Yield units with one fault, fresh ones at every rung, so that rungs are independent.

    A fault of the station is studied in an otherwise quiet factory at the usual temperature.
    """
    serials = drawn_serials(plan.model, plan.seed, ladder.name)
    around = surroundings(plan.seed, ladder.name)
    for number in range(plan.units_per_rung):
        for severity in ladder.severities:
            planted = {ladder.fault.name: severity}
            besides = {} if ladder.of_station else next(around)
            yield Job(Key(ladder.name, severity, number), next(serials), {**planted, **besides})


def surroundings(seed: int, purpose: str) -> Iterator[Mapping[str, float]]:
    """Yield, for unit after unit, what is around it: temperature, and now and then a bang."""
    rng = generator(seed, f"{purpose}/hall")
    for bang in factory_bangs(seed, purpose):
        yield {HALL: float(rng.uniform(HALL_FROM_C, HALL_TO_C)), **bang}


def factory_bangs(seed: int, purpose: str) -> Iterator[Mapping[str, float]]:
    """Yield, for unit after unit, no bang or the one that comes during its first sweep."""
    rng = generator(seed, f"{purpose}/bangs")
    while True:
        bang, level_db_spl = rng.random(), rng.uniform(BANG_FROM_DB_SPL, BANG_TO_DB_SPL)
        yield {BANG: float(level_db_spl)} if bang < BANG_RATIO else {}
