from __future__ import annotations

import re
from itertools import islice

import pytest

from station.errors import RefusedInputError
from station.judging.files.limit_file import limit_file
from station.simulation.faults import FAULTS
from station.simulation.products.units import MODELS, SimulatedModel, simulated_unit
from station.study.jobs import (
    BANG,
    GOOD,
    Job,
    StudyPlan,
    factory_bangs,
    jobs_of,
    ladders_for,
    surroundings,
)  # fmt: skip
from station.study.serials import drawn_serials, simulated_model
from tests.cycle.line import LIMITS

TARN = MODELS[0]


def plan(
    seed: int = 1, good_units: int = 30, units_per_rung: int = 3, faults: tuple[str, ...] = ()
) -> StudyPlan:
    names = faults or ("coil_rub", "wrong_capacitor", "station_loud_room")
    return StudyPlan(TARN, seed, good_units, units_per_rung, ladders_for(TARN.name, names))


def by_key(study: StudyPlan) -> dict[object, Job]:
    return {job.key: job for job in jobs_of(study)}


@pytest.mark.parametrize("name", ["tarn2", "fell60", "scree12"])
def test_serial_numbers_are_the_models_own_and_none_that_limits_were_learnt_from(
    name: str,
) -> None:
    limits, _ = limit_file(LIMITS / f"{name}.toml")
    model = simulated_model(limits)
    drawn = list(islice(drawn_serials(model, 2026, GOOD), 5000))
    assert len(set(drawn)) == 5000
    for serial in drawn:
        assert re.fullmatch(limits.model.serial, serial)
        assert int(serial.removeprefix(model.prefix)) >= 1000  # learnt from 0 to 199


def test_a_limit_file_of_nothing_simulated_is_refused() -> None:
    limits, _ = limit_file(LIMITS / "tarn2.toml")
    other = limits.model.model_copy(update={"name": "Marl 4"})
    with pytest.raises(RefusedInputError, match="no simulated Marl 4"):
        simulated_model(limits.model_copy(update={"model": other}))
    pattern = limits.model.model_copy(update={"serial": "T9[0-9]+"})
    with pytest.raises(RefusedInputError, match="T9"):
        simulated_model(limits.model_copy(update={"model": pattern}))


def test_the_same_seed_draws_the_same_study_and_another_seed_another() -> None:
    assert by_key(plan()) == by_key(plan())
    first, other = by_key(plan()), by_key(plan(seed=2))
    assert first.keys() == other.keys()
    assert first != other


def test_a_larger_study_begins_with_the_units_of_a_smaller_one() -> None:
    small, large = by_key(plan()), by_key(plan(good_units=50, units_per_rung=7))
    assert small.items() <= large.items()
    assert by_key(plan(faults=("coil_rub",))).items() <= small.items()


def test_no_unit_is_tested_twice_within_a_ladder() -> None:
    jobs = list(jobs_of(plan(units_per_rung=50)))
    for group in {job.key.group for job in jobs}:
        serials = [job.serial for job in jobs if job.key.group == group]
        assert len(set(serials)) == len(serials)


def test_one_sweep_in_twenty_has_a_bang() -> None:
    bangs = [bang for bang in islice(factory_bangs(1, GOOD), 4000) if bang]
    assert 160 <= len(bangs) <= 240  # 200 with a standard deviation of 13.8
    assert all(75.0 <= bang[BANG] <= 95.0 for bang in bangs)


def test_a_fault_of_the_station_is_studied_alone() -> None:
    for job in jobs_of(plan(units_per_rung=60, faults=("station_loud_room",))):
        if job.key.group != GOOD:
            assert list(job.faults) == ["station_loud_room"]


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.name)
def test_every_unit_of_a_whole_study_can_be_built(model: SimulatedModel) -> None:
    for ladder in ladders_for(model.name, None):
        for severity in (ladder.severities[0], ladder.severities[-1]):
            serial = next(drawn_serials(model, 1, "any"))
            simulated_unit(serial, 1, {ladder.fault.name: severity})


def test_all_faults_of_a_model_are_studied_but_a_calibrators() -> None:
    for model in MODELS:
        studied = {ladder.fault.name for ladder in ladders_for(model.name, None)}
        possible = {fault.name for fault in FAULTS if model.name in fault.models}
        assert studied == possible - {"station_calibrator_error"}


def test_a_fault_that_does_not_exist_or_fit_is_refused() -> None:
    with pytest.raises(RefusedInputError, match="no fault called 'rust'"):
        ladders_for(TARN.name, ["rust"])
    with pytest.raises(RefusedInputError, match="cannot have the fault low_bias"):
        ladders_for(TARN.name, ["low_bias"])


def test_a_fault_can_be_planted_at_one_severity_alone() -> None:
    ladders = ladders_for(TARN.name, ["coil_rub=62", "coil_rub=58", "wrong_capacitor=-0.2"])
    assert [(ladder.name, ladder.severities) for ladder in ladders] == [
        ("coil_rub=62", (62.0,)), ("coil_rub=58", (58.0,)), ("wrong_capacitor=-0.2", (-0.2,)),
    ]  # fmt: skip
    assert not any(ladder.graded for ladder in ladders)
    study = StudyPlan(TARN, 1, 0, 3, ladders)
    rubs = [job for job in jobs_of(study) if job.key.group == "coil_rub=62"]
    assert [job.faults["coil_rub"] for job in rubs] == [62.0] * 3


def test_a_severity_that_cannot_be_is_refused() -> None:
    for named, words in (("coil_rub=loud", "does not state"), ("coil_rub=999", "cannot have")):
        with pytest.raises(RefusedInputError, match=words):
            ladders_for(TARN.name, [named])


def test_a_hall_is_cooler_in_the_morning_than_in_the_afternoon() -> None:
    found = [around["station_hot_room"] for around in islice(surroundings(1, GOOD), 2000)]
    assert 18.5 <= min(found) < 18.6
    assert 22.4 < max(found) <= 22.5
