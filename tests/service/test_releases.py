"""Limits that judge in service must be released, wherever they come from; a run's own were."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from station.cli.wiring.rights import demonstration_keys
from station.cycle.allowed.authority import Authority
from station.errors import UnreleasedError
from station.judging.files.shelf import ShelvedLimits
from station.judging.release.releasefile import release_of_text
from station.records.kept.roleact import Act
from station.records.kept.service import LimitsFrom
from station.records.log.log import RunLog
from station.service.builtlimits import BuiltLimits, LimitSources, limit_sources
from station.service.releases import ServiceReleases
from tests.cycle.line import SteadyClock
from tests.demo_limits.release import release_all
from tests.service.bench import MATCH, limits_folder, write_limits
from tests.service.test_desk import REBUILT

UNIT = "T2A00301"
CHOSEN = [LimitsFrom.SERVICE, LimitsFrom.SHELF, LimitsFrom.ARCHIVE]


def authority_of(log: RunLog) -> Authority:
    return Authority(log, SteadyClock(), lambda: f"act-{len(log.role_acts())}")


def releases(log: RunLog, *keys: str) -> ServiceReleases:
    return ServiceReleases(authority_of(log), log, demonstration_keys=keys)


@pytest.fixture
def sources(tmp_path: Path) -> LimitSources:
    """Return today's limits, a service revision and an archived file, all released."""
    limits = limits_folder(tmp_path / "limits")
    write_limits(limits, "tarn2.toml", "tarn2-s1.toml", revision="A-S1", tail=MATCH + REBUILT)
    write_limits(limits / "archive", "tarn2.toml", "t0.toml", revision="0")
    release_all(limits)
    release_all(limits / "archive")
    return limit_sources(limits)


def chosen(sources: LimitSources, found_in: LimitsFrom) -> BuiltLimits:
    match found_in:
        case LimitsFrom.SERVICE:
            return sources.service_revision(UNIT, "A", "A-S1")
        case LimitsFrom.ARCHIVE:
            return sources.for_unlogged(UNIT, "0")
        case _:
            return BuiltLimits(sources.shelf.for_serial(UNIT), found_in)


def unsigned(file: ShelvedLimits) -> ShelvedLimits:
    return replace(file, release_text=None)


def one_byte_changed(file: ShelvedLimits) -> ShelvedLimits:
    return replace(file, text=file.text.replace("2.83", "2.84", 1) + "\n")


def one_byte_of_the_signature_changed(file: ShelvedLimits) -> ShelvedLimits:
    assert file.release_text is not None
    release = release_of_text(file.release_text)
    last = "0" if release.signature[-1] != "0" else "1"
    return replace(
        file, release_text=replace(release, signature=release.signature[:-1] + last).text()
    )


@pytest.mark.parametrize("found_in", CHOSEN)
def test_released_limits_judge(tmp_path: Path, sources: LimitSources, found_in: LimitsFrom) -> None:
    limits = chosen(sources, found_in)
    assert limits.found_in is found_in
    with RunLog.open(tmp_path / "log") as log:
        releases(log, *demonstration_keys()).check(UNIT, limits)
        assert log.role_acts() == ()


@pytest.mark.parametrize("found_in", CHOSEN)
@pytest.mark.parametrize(
    ("spoiled", "sentence"),
    [
        (unsigned, "is not released: there is no"),
        (one_byte_changed, "was changed after"),
        (one_byte_of_the_signature_changed, "its signature does not fit"),
    ],
)
def test_what_is_not_as_it_was_released_is_refused_in_a_sentence_and_logged(
    tmp_path: Path, sources: LimitSources, found_in: LimitsFrom, spoiled: object, sentence: str
) -> None:
    assert callable(spoiled)
    limits = chosen(sources, found_in)
    changed = BuiltLimits(spoiled(limits.shelved), limits.found_in)
    with RunLog.open(tmp_path / "log") as log:
        with pytest.raises(UnreleasedError, match=sentence) as refused:
            releases(log, *demonstration_keys()).check(UNIT, changed)
        (act,) = log.role_acts()
    assert (act.act, act.subject) == (Act.REFUSED, UNIT)
    assert act.details == {"happened": refused.value.happened}
    assert refused.value.happened.endswith(".")


@pytest.mark.parametrize("found_in", CHOSEN)
def test_a_release_by_a_key_that_is_not_trusted_is_refused_and_logged(
    tmp_path: Path, sources: LimitSources, found_in: LimitsFrom
) -> None:
    with RunLog.open(tmp_path / "log") as log:
        with pytest.raises(UnreleasedError, match="which this station does not trust"):
            releases(log).check(UNIT, chosen(sources, found_in))
        assert [act.subject for act in log.role_acts()] == [UNIT]


def test_limits_stored_with_a_run_of_production_need_no_release(tmp_path: Path) -> None:
    (unreleased,) = limit_sources(limits_folder(tmp_path / "limits")).shelf.files
    with RunLog.open(tmp_path / "log") as log:
        releases(log).check(UNIT, BuiltLimits(unreleased, LimitsFrom.RUN))
        assert log.role_acts() == ()
