"""Small studies on the simulated line itself."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from station.errors import RefusedInputError
from station.judging.files.shelf import shelved
from station.simulation.faults import fault_of
from station.study.findings import Findings
from station.study.jobs import GOOD, Job, Key, StudyPlan, jobs_of
from station.study.jsonform import study_as_object
from station.study.ladders import SeverityLadder
from station.study.outcome import Cost, End, Outcome
from station.study.power import power_study
from station.study.resultsfile import Header, results_file
from station.study.serials import simulated_model
from station.study.unitline import StudiedLimits, batch_outcomes, sha256_of
from tests.cycle.line import LIMITS, run_unit, simulated_line

SEED = 3
RUB = SeverityLadder("coil_rub", fault_of("coil_rub"), (40.0, 75.0))
DEAD = SeverityLadder("dead_tweeter", fault_of("dead_tweeter"), (1.0,))
UNPLUGGED = SeverityLadder(
    "station_silent_microphone", fault_of("station_silent_microphone"), (1.0,)
)


class Study:
    """A small study of one limit file in a folder of its own."""

    def __init__(self, folder: Path, *ladders: SeverityLadder) -> None:
        self.limits = folder / "tarn2.toml"
        shutil.copytree(LIMITS, folder, dirs_exist_ok=True)
        taken = shelved(self.limits)
        self.plan = StudyPlan(simulated_model(taken.limits), SEED, 2, 1, ladders)
        self.studied = StudiedLimits(self.limits, sha256_of(taken.text), SEED)
        self.header = Header(taken.name, self.studied.sha256, "Tarn 2", "A", SEED, {})
        self.told: list[int] = []

    def run(self, out: Path | None, *, workers: int = 1, stop_after: int | None = None) -> Findings:
        def on_done(done: int, every: int) -> None:
            self.told.append(done)
            assert every == len(list(jobs_of(self.plan)))
            if done == stop_after:
                raise StoppedHereError

        self.told = []
        return power_study(
            self.plan, self.studied, self.header, out, workers=workers, on_done=on_done
        )

    def kept(self, out: Path) -> dict[Key, Outcome]:
        with results_file(out, self.header) as results:
            return results.known


class StoppedHereError(Exception):
    pass


def no_clock() -> float:
    return 0.0


@pytest.fixture
def study(tmp_path: Path) -> Study:
    return Study(tmp_path / "limits")


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> tuple[Study, Path, Findings]:
    folder = tmp_path_factory.mktemp("done")
    study = Study(folder / "limits", RUB, DEAD, UNPLUGGED)
    return study, folder / "out", study.run(folder / "out")


def test_any_number_of_workers_finds_the_same(
    done: tuple[Study, Path, Findings], tmp_path: Path
) -> None:
    study, out, alone = done
    together = study.run(tmp_path, workers=2)
    free = alone.speed  # what it cost is the one thing that may differ
    objects = [
        study_as_object(study.header, study.plan, replace(found, speed=free))
        for found in (alone, together)
    ]
    assert objects[0] == objects[1]
    nothing = Cost(0.0, 0.0, 0.0)
    kept = [
        {key: replace(outcome, cost=nothing) for key, outcome in study.kept(folder).items()}
        for folder in (out, tmp_path)
    ]
    assert kept[0] == kept[1]
    assert len(kept[0]) == 6


def test_faults_are_found_and_the_station_is_not_the_units(
    done: tuple[Study, Path, Findings],
) -> None:
    _, _, findings = done
    rub, dead = findings.faults
    assert [rung.tally.share(End.FAIL).hits for rung in rub.rungs] == [0, 1]
    assert rub.every.first_causes == {"rub": 1}
    assert dead.every.share(End.FAIL).hits == 1
    (unplugged,) = findings.station
    assert unplugged.every.share(End.VOID).hits == 1
    assert findings.good.every.share(End.PASS).hits == 2
    assert findings.speed.units_per_s > 0.0
    assert findings.speed.simulating_ratio > 1.0


def test_a_finished_study_tests_nothing_again(done: tuple[Study, Path, Findings]) -> None:
    study, out, findings = done
    again = study.run(out)
    assert study.told == [6]
    assert again.good == findings.good


def test_a_stopped_study_goes_on_where_it_was(study: Study, tmp_path: Path) -> None:
    with pytest.raises(StoppedHereError):
        study.run(tmp_path, stop_after=1)
    kept = study.kept(tmp_path)
    assert len(kept) == 1
    study.run(tmp_path)
    assert study.told == [1, 2]
    assert study.kept(tmp_path).items() >= kept.items()


def test_a_changed_limit_file_is_refused_in_mid_study(study: Study) -> None:
    study.limits.write_text(study.limits.read_text() + "\n# one more remark\n")
    with pytest.raises(RefusedInputError, match="changed while it was studied"):
        study.run(None)


def test_results_of_units_drawn_otherwise_are_refused(study: Study, tmp_path: Path) -> None:
    first = next(jobs_of(study.plan))
    with results_file(tmp_path, study.header) as results:
        cost = Cost(0.0, 0.0, 0.0)
        results.add(Outcome(first.key, "T2A99999", End.PASS, 1, None, (), "", cost))
    with pytest.raises(RefusedInputError, match="T2A99999 where this version draws"):
        study.run(tmp_path)


@pytest.mark.parametrize(
    "faults", [{}, {"coil_rub": 75.0}, {"station_silent_microphone": 1.0}, {"station_bang": 95.0}]
)
def test_a_unit_of_a_study_ends_as_it_does_on_the_line(
    study: Study, tmp_path: Path, faults: dict[str, float]
) -> None:
    serial = next(jobs_of(study.plan)).serial
    job = Job(Key(GOOD, 0.0, 0), serial, faults)
    (outcome,) = batch_outcomes(study.studied, [job], no_clock)
    with simulated_line(tmp_path / "logs", {serial: faults}, seed=SEED) as (cycle, _):
        report = run_unit(cycle, serial)
    judgement = report.final.judgement
    assert outcome.end == judgement.verdict.value
    assert outcome.sweeps == len(report.runs)
    assert outcome.causes == tuple(cause.reading for cause in judgement.causes)
    assert outcome.told == judgement.next_step


def test_a_unit_does_not_depend_on_those_tested_before_it(study: Study) -> None:
    jobs = list(jobs_of(study.plan))[:2]
    together = batch_outcomes(study.studied, [*jobs, jobs[0]], no_clock)
    alone = batch_outcomes(study.studied, [jobs[0]], no_clock)
    assert together[0] == together[2] == alone[0]


def test_a_station_that_refuses_is_counted_as_such(study: Study) -> None:
    job = Job(Key(GOOD, 0.0, 0), "T2A01000", {"coil_rub": 1e6})  # beyond what can be simulated
    (outcome,) = batch_outcomes(study.studied, [job], no_clock)
    assert outcome.end is End.REFUSED
    assert outcome.sweeps == 0
    assert "severity" in outcome.told
