"""The faulty part is named, on impedances that ngspice computed; few units, for the suite.

The study of hundreds prints the rates: `python -m tests.studies.faultyparts`.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from station.analysis.readings import Number, Readings
from station.diagnosis.diagnose import Model, diagnosis_of, model_of_parts
from station.diagnosis.named.suspect import Finding, Found
from station.judging.verdicts.verdict import Cause, Judgement, Verdict
from tests.diagnosis.netlists import NAMES, netlist, sections
from tests.diagnosis.scoring import (
    NOISE_RATIO,
    Score,
    findings_of,
    model_of_network,
    readings_of,
    readings_of_all,
    score_of,
)
from tests.diagnosis.truth import DOUBLE, FAULTY, broken_units, saved

RUBS = Judgement(Verdict.FAIL, (Cause("rub", "above", -8.0, "dB", 50.0, 3.0, "It rubs."),), "")


def good(name: str, row: int = 0) -> tuple[Model, Readings]:
    """Return the model of a network and the readings of one good unit of it."""
    answers = saved()
    rng = np.random.default_rng(3)
    readings = readings_of(answers[f"{name}_hz"], answers[f"{name}_good"][row], rng)
    return model_of_network(name, readings), readings


def with_numbers(readings: Readings, numbers: dict[str, float]) -> Readings:
    added = {name: Number(value, "ratio") for name, value in numbers.items()}
    return Readings({**readings.numbers, **added}, readings.curves)


def saved_readings(
    name: str, kind: str, seed: int, count: int | None = None, *, with_levels: bool = False
) -> list[Readings]:
    answers = saved()
    levels_db = answers[f"{name}_{kind}_levels"][:count] if with_levels else None
    z_ohm = answers[f"{name}_{kind}"][:count]
    return readings_of_all(name, answers[f"{name}_hz"], z_ohm, seed, levels_db)


@cache
def scores(name: str, *, with_levels: bool = False) -> Score:
    faults = [fault for _, fault in broken_units(name, FAULTY)]
    return score_of(name, faults, saved_readings(name, "faulty", 5, with_levels=with_levels))


@pytest.mark.parametrize("name", NAMES)
def test_a_planted_fault_is_found_and_its_part_named(name: str) -> None:
    score = scores(name)
    # The study's rates over hundreds are above 90 and 95 %; 16 units scatter.
    assert score.detected >= 0.8 * score.units
    assert score.first >= 0.88 * score.detected
    assert score.few == score.detected
    assert float(np.median(score.errors)) < 0.015


@pytest.mark.parametrize("name", NAMES)
def test_with_the_levels_of_the_sections_no_fault_is_missed(name: str) -> None:
    score = scores(name, with_levels=True)
    assert score.detected >= score.units - 1
    assert score.few == score.detected
    assert score.not_one == 0


@pytest.mark.parametrize("with_levels", [False, True])
@pytest.mark.parametrize("name", NAMES)
def test_good_units_have_no_suspect(name: str, *, with_levels: bool) -> None:
    readings = saved_readings(name, "good", 6, 6, with_levels=with_levels)
    assert set(findings_of(name, readings)) == {Finding.NOTHING}


@pytest.mark.parametrize("name", NAMES)
def test_two_faults_are_not_said_to_be_one_part(name: str) -> None:
    found = findings_of(name, saved_readings(name, "double", 7))
    # some second faults hide behind the first
    assert found.count(Finding.NOT_ONE_PART) >= 0.5 * DOUBLE


@pytest.mark.parametrize("name", NAMES)
def test_two_faults_show_better_with_the_levels_of_the_sections(name: str) -> None:
    found = findings_of(name, saved_readings(name, "double", 7, with_levels=True))
    assert found.count(Finding.NOT_ONE_PART) >= 0.75 * DOUBLE


def test_noise_is_what_the_netlists_say() -> None:
    assert {netlist(name).noise_ratio for name in NAMES} == {NOISE_RATIO}


@pytest.mark.parametrize(("section", "part"), [("woofer", "woofer"), ("tweeter", "tweeter")])
def test_a_section_turned_round_names_its_leads(section: str, part: str) -> None:
    model, readings = good("two_way")
    polarity = {"polarity.woofer": 1.0, "polarity.tweeter": 0.98} | {f"polarity.{section}": -0.97}
    first = diagnosis_of(model, with_numbers(readings, polarity), None).first
    assert first is not None
    assert (first.part, first.found) == (part, Found.REVERSED)


def test_all_sections_turned_round_name_the_terminals() -> None:
    model, readings = good("two_way")
    polarity = {"polarity.woofer": -0.99, "polarity.tweeter": -0.98}
    first = diagnosis_of(model, with_numbers(readings, polarity), None).first
    assert first is not None
    assert (first.part, first.found) == ("terminals", Found.REVERSED)


@pytest.mark.parametrize(
    ("cause", "part", "found"),
    [
        ("coil_rub", "woofer", Found.COIL_RUB),
        ("loose_part", "loose part", Found.LOOSE),
        ("panel_arcing", "panel", Found.ARCING),
    ],
)
def test_what_rubs_is_named_where_the_impedance_is_right(
    cause: str, part: str, found: Found
) -> None:
    model, readings = good("hybrid")
    chances = dict.fromkeys(("coil_rub", "loose_part", "air_leak", "panel_arcing"), 0.02)
    chances[cause] = 0.94
    heard = with_numbers(readings, {f"rub_cause.{name}": value for name, value in chances.items()})
    first = diagnosis_of(model, heard, RUBS).first
    assert first is not None
    assert (first.part, first.found) == (part, found)
    assert first.probability > 0.8


def test_the_same_chances_say_nothing_of_a_unit_that_does_not_rub() -> None:
    model, readings = good("hybrid")
    heard = with_numbers(readings, {"rub_cause.coil_rub": 0.94})
    assert diagnosis_of(model, heard, None).finding is Finding.NOTHING


@pytest.mark.parametrize("lost_db", [-4.0, -30.0])
def test_a_quiet_panel_of_the_right_impedance_lacks_bias(lost_db: float) -> None:
    model, readings = good("hybrid")
    levels = {"level.woofer": 0.1, "level.panel": lost_db}
    first = diagnosis_of(model, with_numbers(readings, levels), None).first
    assert first is not None
    assert (first.part, first.found) == ("panel", Found.BIAS)


def test_the_bias_is_said_to_be_blind() -> None:
    model, _ = good("hybrid")
    assert ("panel", "its bias") in model.blind


def test_the_tweeters_mechanics_are_said_to_be_blind() -> None:
    model, _ = good("two_way")
    assert ("tweeter", "its stiffness") in model.blind
    assert all(part != "C2" for part, _ in model.blind)


def test_without_netlist_or_impedance_it_says_why() -> None:
    _, readings = good("two_way")
    assert "netlist" in diagnosis_of(None, readings, None).why_not
    empty = Readings()
    assert model_of_parts(netlist("two_way"), sections("two_way"), empty) is None
    told = diagnosis_of(None, empty, None)
    assert told.finding is Finding.NOT_POSSIBLE
    assert "impedance" in told.why_not
    assert told.first is None
