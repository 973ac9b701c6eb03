"""Middling studies of the demo limit files: `pytest -m slow`."""

from __future__ import annotations

from itertools import chain

import pytest

from station.judging.files.shelf import shelved
from station.study.findings import findings_of
from station.study.jobs import StudyPlan, jobs_of, ladders_for
from station.study.outcome import End
from station.study.serials import simulated_model
from station.study.unitline import StudiedLimits, sha256_of
from station.study.workers import outcomes
from tests.cycle.line import LIMITS

FAULTS = (
    "coil_rub",
    "reversed_woofer",
    "dead_woofer",
    "station_silent_microphone",
    "station_lost_samples",
)
SEED = 11


@pytest.mark.slow
@pytest.mark.parametrize("name", ["tarn2", "fell60", "scree12"])
def test_gross_faults_are_found_and_good_units_are_not_blamed(name: str) -> None:
    path = LIMITS / f"{name}.toml"
    taken = shelved(path)
    model = simulated_model(taken.limits)
    plan = StudyPlan(model, SEED, 100, 10, ladders_for(model.name, FAULTS))
    studied = StudiedLimits(path, sha256_of(taken.text), SEED)
    known = {found.key: found for found in outcomes(studied, tuple(jobs_of(plan)), 1)}
    findings = findings_of(plan, known)
    # limits at five sigmas: not one in a hundred may fail, bangs included
    assert findings.good.every.share(End.FAIL).lower_ratio < 0.01
    rub, *absolute = findings.faults
    for fault in absolute:
        assert fault.every.share(End.FAIL).hits == fault.every.n
    assert rub.curve is not None
    # a choice of ours: a rub of 70 dB SPL peak must not slip through
    assert rub.ladder.severity(rub.curve.thresholds[1].position) < 70.0
    rungs = chain.from_iterable(finding.rungs for finding in findings.station)
    assert sum(rung.tally.ends.get(End.FAIL, 0) for rung in rungs) == 0
