"""Limits chosen for a service judge only if they are released; those stored with a run always."""

from __future__ import annotations

from pathlib import Path

import pytest

from station.cli.rights import demonstration_keys
from station.cycle.authority import Authority
from station.errors import UnreleasedError
from station.records.kept.service import LimitsFrom
from station.records.log.log import RunLog
from station.service.builtlimits import BuiltLimits, limit_sources
from station.service.releases import ServiceReleases
from tests.cycle.line import LIMITS, SteadyClock
from tests.service.bench import limits_folder

UNIT = "T2A00301"


def releases(log: RunLog, *keys: str) -> ServiceReleases:
    authority = Authority(log, SteadyClock(), lambda: f"act-{len(log.role_acts())}")
    return ServiceReleases(authority, demonstration_keys=keys)


@pytest.mark.parametrize("found_in", [LimitsFrom.SERVICE, LimitsFrom.SHELF])
def test_unreleased_limits_are_refused_and_logged(tmp_path: Path, found_in: LimitsFrom) -> None:
    (unreleased,) = limit_sources(limits_folder(tmp_path / "limits")).shelf.files
    with RunLog.open(tmp_path / "log") as log:
        with pytest.raises(UnreleasedError):
            releases(log, *demonstration_keys()).check(UNIT, BuiltLimits(unreleased, found_in))
        assert [act.subject for act in log.role_acts()] == [UNIT]


def test_a_release_by_a_trusted_key_is_believed_and_by_no_other(tmp_path: Path) -> None:
    released = limit_sources(LIMITS).shelf.for_serial(UNIT)
    limits = BuiltLimits(released, LimitsFrom.SHELF)
    with RunLog.open(tmp_path) as log:
        releases(log, *demonstration_keys()).check(UNIT, limits)
        with pytest.raises(UnreleasedError):
            releases(log).check(UNIT, limits)


@pytest.mark.parametrize("found_in", [LimitsFrom.RUN, LimitsFrom.ARCHIVE])
def test_limits_of_production_and_of_the_archive_need_none(
    tmp_path: Path, found_in: LimitsFrom
) -> None:
    (unreleased,) = limit_sources(limits_folder(tmp_path / "limits")).shelf.files
    with RunLog.open(tmp_path / "log") as log:
        releases(log).check(UNIT, BuiltLimits(unreleased, found_in))
        assert log.role_acts() == ()
