"""One small log for all tests of paper: built, failed, repaired, and a partner; made once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from station.judging.verdicts.verdict import Verdict
from station.reports.unitfacts import UnitFacts, facts_of
from station.service.builtlimits import LimitSources, limit_sources
from tests.service.bench import Works, limits_folder, works

UNIT, PARTNER = "T2A00301", "T2A00302"


@dataclass(frozen=True)
class Story:
    """The facts of one unit's three runs: as built, failed in service, and repaired."""

    works: Works
    sources: LimitSources
    built: UnitFacts
    failed: UnitFacts
    repaired: UnitFacts


@pytest.fixture(scope="session")
def story(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Story]:
    folder = tmp_path_factory.mktemp("paper")
    limits = limits_folder(folder / "limits")
    with works(folder, limits) as here:
        runs = [here.build(UNIT).final]
        here.build(PARTNER)
        here.faults[UNIT] = {"dead_tweeter": 1.0}
        here.desk.open(UNIT, "T. Beck", "No treble <since> it fell & broke.")
        runs.append(here.test(UNIT).final)
        here.desk.replace_part(UNIT, "T. Beck", "tweeter", "lot 7", "Coil open.")
        here.desk.confirm_cause(UNIT, "T. Beck", "tweeter", "Coil open.")
        here.faults[UNIT] = {}
        runs.append(here.test(UNIT).final)
        here.desk.check_partner(UNIT, "T. Beck", PARTNER)
        here.desk.close(UNIT, "T. Beck", "Returned.")
        assert [run.judgement.verdict for run in runs] == [
            Verdict.PASS,
            Verdict.FAIL,
            Verdict.PASS,
        ]
        sources = limit_sources(limits)
        yield Story(here, sources, *(facts_of(here.log, sources, run) for run in runs))
