from __future__ import annotations

import math

import pytest

from station.study.findings import FaultFinding, Findings, findings_of, good_finding
from station.study.jobs import Job, jobs_of
from station.study.outcome import End
from tests.study.example import example_findings, example_plan, from_sixty_on, made_up, outcome


def finding(findings: Findings, name: str) -> FaultFinding:
    (found,) = (
        found for found in (*findings.faults, *findings.station) if found.ladder.name == name
    )
    return found


def test_every_unit_is_counted_where_it_belongs() -> None:
    findings = example_findings()
    assert findings.good.every.n == 20
    assert findings.good.every.share(End.PASS).hits == 20
    rub = finding(findings, "coil_rub")
    assert [rung.tally.n for rung in rub.rungs] == [5] * 11
    failed = {rung.severity: rung.tally.share(End.FAIL).hits for rung in rub.rungs}
    assert failed == {s: 5 if s >= 60.0 else 0 for s in rub.ladder.severities}
    assert rub.every.first_causes == {"rub": 5 * sum(s >= 60.0 for s in rub.ladder.severities)}
    assert finding(findings, "dead_tweeter").every.share(End.FAIL).ratio == 1.0


def test_the_threshold_lies_between_the_rungs_around_it() -> None:
    rub = finding(example_findings(), "coil_rub")
    assert rub.curve is not None
    half = rub.curve.thresholds[0]
    assert 57.0 < rub.ladder.severity(half.position) < 60.0
    assert rub.curve.steep


def test_what_nothing_catches_is_told_apart() -> None:
    findings = example_findings()
    assert finding(findings, "coil_rub").caught
    assert finding(findings, "dead_tweeter").caught
    capacitor = finding(findings, "wrong_capacitor more")
    assert not capacitor.caught
    assert capacitor.curve is not None
    assert all(threshold.position == math.inf for threshold in capacitor.curve.thresholds)


def test_a_void_is_neither_found_nor_blamed() -> None:
    room = finding(example_findings(), "station_loud_room")
    assert room.curve is None
    assert room.every.share(End.VOID).ratio == 1.0
    assert room.every.share(End.FAIL).hits == 0
    assert room.every.first_causes == {}
    assert room.every.void_causes == {"rub": room.every.n}


def test_good_units_that_fail_are_the_floor_of_every_curve() -> None:
    def every_fifth_fails(job: Job) -> End:
        fails = job.key.group == "good" and job.key.number % 5 == 0
        return End.FAIL if fails else from_sixty_on(job)

    rub = finding(example_findings(every_fifth_fails), "coil_rub")
    assert rub.curve is not None
    assert rub.curve.floor_ratio == pytest.approx(0.2)


def test_good_units_are_told_by_their_bangs_and_repeats() -> None:
    jobs = list(jobs_of(example_plan(good_units=200)))[:200]
    bangs = sum("station_bang" in job.faults for job in jobs)
    assert 0 < bangs < 30
    outcomes = [
        outcome(job, End.PASS, sweeps=2) if "station_bang" in job.faults else outcome(job, End.FAIL)
        for job in jobs
    ]
    good = good_finding(outcomes)
    assert good.repeated.hits == good.with_bang.n == bangs
    assert good.with_bang.share(End.FAIL).hits == 0
    assert good.without_bang.share(End.FAIL).ratio == 1.0


def test_speed_is_per_unit_and_sweep() -> None:
    speed = example_findings().speed
    assert speed.units_per_s == pytest.approx(4.0)  # 0.25 s a unit
    assert speed.simulating_ratio == pytest.approx(20.0)  # 0.2 s over 0.01 s
    assert speed.judging_ratio == pytest.approx(5.0)


def test_a_study_that_is_not_complete_says_nothing() -> None:
    plan = example_plan()
    known = dict(made_up(plan))
    known.popitem()
    with pytest.raises(KeyError):
        findings_of(plan, known)
