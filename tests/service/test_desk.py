"""A unit that comes back: looked up, tested, repaired, compared with itself and its partner."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from station.errors import RefusedInputError, StoppedError, TextFileError
from station.judging.verdicts.verdict import Verdict
from station.records.kept.service import LimitsFrom, StepKind
from station.records.log.production import LeftOut, left_out
from station.records.summaries.runlist import Period
from tests.cycle.line import nobody_watches
from tests.service.bench import MATCH, Works, limits_folder, works, write_limits

UNIT, PARTNER = "T2A00301", "T2A00302"
REBUILT = """
[service]
for_revision = "A"
part = "woofer"
made_to = "a cone of today's pulp"
"""


@pytest.fixture
def here(tmp_path: Path) -> Iterator[Works]:
    """Hold a line and a desk on the Tarn 2 alone."""
    with works(tmp_path, limits_folder(tmp_path / "limits")) as here:
        yield here


def test_a_unit_goes_from_look_up_to_returned_and_every_step_is_kept(here: Works) -> None:
    built = here.build(UNIT).final
    here.build(PARTNER)
    here.faults[UNIT] = {"dead_tweeter": 1.0}
    here.desk.open(UNIT, "T. Beck", "No treble.")
    before = here.test(UNIT)
    assert (before.kind, before.final.judgement.verdict) == (StepKind.BEFORE, Verdict.FAIL)
    assert before.change is not None
    assert before.change.within is False
    here.desk.replace_part(UNIT, "T. Beck", "tweeter", "lot 7", "Coil open.")
    here.desk.confirm_cause(UNIT, "T. Beck", "tweeter", "Coil open.")
    here.faults[UNIT] = {}
    after = here.test(UNIT)
    assert (after.kind, after.final.judgement.verdict) == (StepKind.AFTER, Verdict.PASS)
    assert after.change is not None
    assert after.change.within is True
    partner = here.desk.check_partner(UNIT, "T. Beck", PARTNER)
    assert partner.within is True
    here.desk.close(UNIT, "T. Beck", "Returned to its owner.")

    dossier = here.desk.look_up(UNIT)
    assert (dossier.model, dossier.revision, dossier.built_on) == ("Tarn 2", "A", "2026-11-25")
    assert dossier.as_built is not None
    assert dossier.as_built.entry_id == built.run_id
    assert dossier.open_service is None
    (service,) = dossier.services
    assert [step.kind.value for step in service.steps] == [
        "before", "part", "cause", "after", "partner", "closed",
    ]  # fmt: skip
    assert service.service.limits_from is LimitsFrom.RUN
    assert here.log.chain_fault() is None


def test_a_stopped_test_in_service_is_no_production(here: Works) -> None:
    here.build(UNIT)
    here.desk.open(UNIT, "T. Beck", "No treble.")
    stop = threading.Event()
    stop.set()
    with pytest.raises(StoppedError):
        here.desk.test(UNIT, "T. Beck", on_progress=nobody_watches, stop=stop)
    assert here.desk.look_up(UNIT).services[0].steps == ()
    assert left_out(here.log, None, Period()) == LeftOut(service=1)
    assert len(here.log.list_runs("Tarn 2", Period())) == 1


def test_a_unit_is_judged_by_the_limits_it_was_built_to_not_by_todays(tmp_path: Path) -> None:
    limits = limits_folder(tmp_path / "limits")
    with works(tmp_path, limits) as here:
        built = here.build(UNIT).final
    write_limits(limits, "tarn2.toml", revision="B", tail=MATCH)
    with works(tmp_path, limits, ids="later") as here:
        assert here.build(PARTNER).final.revision == "B"
        assert here.desk.look_up(UNIT).limits.found_in is LimitsFrom.RUN
        here.desk.open(UNIT, "T. Beck", "Sounds dull.")
        tested = here.test(UNIT)
        assert tested.final.revision == "A"
        assert tested.final.setup.limit_text == built.setup.limit_text


def test_limits_of_a_trial_are_never_those_a_unit_was_built_to(tmp_path: Path) -> None:
    limits = limits_folder(tmp_path / "limits")
    with works(tmp_path, limits) as here:
        built = here.build(UNIT, dead_tweeter=1.0).final
    write_limits(limits, "tarn2.toml", revision="B", tail=MATCH)
    with works(tmp_path, limits, ids="trial") as here:
        text = (limits / "tarn2.toml").read_text(encoding="utf-8")
        setup = replace(built.setup, limit_text=text)
        here.log.store(replace(built, run_id="trial", revision="B", trial=True, setup=setup))
        dossier = here.desk.look_up(UNIT)
    assert (dossier.revision, dossier.limits.found_in) == ("A", LimitsFrom.RUN)


def test_a_unit_older_than_the_log_is_judged_by_the_archive(tmp_path: Path) -> None:
    limits = limits_folder(tmp_path / "limits")
    write_limits(limits / "archive", "tarn2.toml", revision="0")
    with works(tmp_path, limits) as here:
        dossier = here.desk.look_up(UNIT)
        assert (dossier.revision, dossier.in_log, dossier.as_built) == ("0", False, None)
        assert dossier.limits.found_in is LimitsFrom.ARCHIVE
        here.desk.open(UNIT, "T. Beck", "")
        tested = here.test(UNIT)
        assert (tested.final.revision, tested.change) == ("0", None)


def test_a_unit_older_than_the_log_is_compared_with_its_imported_record(tmp_path: Path) -> None:
    limits = limits_folder(tmp_path / "limits")
    with works(tmp_path / "then", limits) as then:
        response = then.build(UNIT).final.readings.curves["response"]
    coarse = response.frequency_hz[::3]
    rows = [
        f"response,{hz:.6g},{db + 0.5:.3f},dB"
        for hz, db in zip(coarse, response.values[::3], strict=True)
    ]
    contents = "\n".join(["# typed from paper", "name,hz,value,unit", "fs,,61.5,Hz", *rows])
    with works(tmp_path, limits) as here:
        record = here.desk.import_record(
            contents,
            file_name="T2A00301.csv",
            serial=UNIT,
            model="Tarn 2",
            revision="A",
            measured_on="1998",
            origin="Paper file 12",
            by="T. Beck",
        )
        here.desk.open(UNIT, "T. Beck", "")
        change = here.test(UNIT).change
        dossier = here.desk.look_up(UNIT)
    assert dossier.built_on == "1998"
    assert dossier.services[0].service.as_built == record.record_id
    assert change is not None
    # the record was written 0.5 dB louder than the same simulated unit reads today; two sweeps of
    # one unit differ by 0.02 dB per band (DEVELOPERS.md, repeatability)
    assert change.bands[-1].match.level_db == pytest.approx(-0.5, abs=0.02)
    assert change.bands[-1].match.shape_max_db < 0.2
    assert [one.name for one in change.numbers] == ["fs"]


def test_a_rebuilt_part_has_its_own_service_revision_until_the_next_service(
    tmp_path: Path,
) -> None:
    limits = limits_folder(tmp_path / "limits")
    write_limits(limits, "tarn2.toml", "tarn2-s1.toml", revision="A-S1", tail=MATCH + REBUILT)
    with works(tmp_path, limits) as here:
        assert here.build(UNIT).final.revision == "A"  # never by the service revision
        here.desk.open(UNIT, "T. Beck", "Torn cone.")
        here.desk.replace_part(UNIT, "T. Beck", "woofer", "rebuilt 3", "Torn.")
        assert [f.name for f in here.desk.service_revisions(here.desk.look_up(UNIT))] == [
            "tarn2-s1.toml"
        ]
        with pytest.raises(RefusedInputError, match=r"no service revision 'A-S9'.*these: A-S1"):
            here.test(UNIT, service_revision="A-S9")
        tested = here.test(UNIT, service_revision="A-S1")
        assert tested.limits.found_in is LimitsFrom.SERVICE
        assert tested.final.revision == "A-S1"
        here.desk.close(UNIT, "T. Beck")
        dossier = here.desk.look_up(UNIT)
        assert (dossier.revision, dossier.serviced_to) == ("A", "A-S1")
        opened = here.desk.open(UNIT, "T. Beck", "Again.").service
        assert opened.limits_from is LimitsFrom.SERVICE
        assert here.test(UNIT).final.revision == "A-S1"


def test_what_makes_no_sense_is_refused_in_a_sentence(here: Works) -> None:
    with pytest.raises(RefusedInputError, match=r"No limit file in .* is for 'X1'"):
        here.desk.look_up("X1")
    here.build(UNIT)
    with pytest.raises(RefusedInputError, match="is not in service"):
        here.test(UNIT)
    with pytest.raises(RefusedInputError, match="not said who works"):
        here.desk.open(UNIT, " ", "")
    with pytest.raises(RefusedInputError, match="built to revision A, not B"):
        here.desk.look_up(UNIT, "B")
    here.desk.open(UNIT, "T. Beck", "")
    with pytest.raises(RefusedInputError, match="in service already"):
        here.desk.open(UNIT, "T. Beck", "")
    with pytest.raises(RefusedInputError, match="A word is missing"):
        here.desk.replace_part(UNIT, "T. Beck", " ", "", "")
    with pytest.raises(RefusedInputError, match="no run of"):
        here.desk.check_partner(UNIT, "T. Beck", PARTNER)


def test_a_pattern_that_is_gone_is_looked_for_in_the_archive(tmp_path: Path) -> None:
    limits = limits_folder(tmp_path / "limits")
    with works(tmp_path / "then", limits) as then:
        built = then.build(UNIT).final
    write_limits(limits, "tarn2.toml", revision="B", tail=MATCH)
    text = (limits / "tarn2.toml").read_text(encoding="utf-8")
    without = re.sub(r"(?ms)^\[readings\.pattern\]\n.*?(?=^\[)", "", text)
    without = re.sub(
        r'(?ms)^\[\[(numbers|advice)\]\]\n(?:(?!^\[).)*"pattern\..*?(?=^\[|\Z)', "", without
    )
    without = re.sub(r"(?ms)^\[translations\.de\]\n.*?(?=^\[|\Z)", "", without)
    (limits / "tarn2.toml").write_text(without, encoding="utf-8")
    pattern = (limits / "tarn2.pattern.json").rename(tmp_path / "kept.json")
    with works(tmp_path / "whole", limits, ids="later") as here:
        here.log.store(built)  # with its population: nothing is to be looked for
        assert here.desk.look_up(UNIT).limits.shelved.limits.learned is not None
    with works(tmp_path, limits, ids="later") as here:
        # as runs were stored before their population was
        here.log.store(replace(built, setup=replace(built.setup, pattern_text=None)))
        with pytest.raises(
            TextFileError, match=r"(?s)cannot be used.*tarn2.pattern.json"
        ) as refused:
            here.desk.look_up(UNIT)
        assert "archive" in refused.value.remedy
        (limits / "archive").mkdir()
        pattern.rename(limits / "archive" / "tarn2.pattern.json")
        dossier = here.desk.look_up(UNIT)
    assert dossier.limits.found_in is LimitsFrom.RUN
    assert dossier.limits.shelved.text == built.setup.limit_text
    assert dossier.limits.shelved.limits.learned is not None


def test_several_archived_revisions_ask_for_the_one_on_the_plate(tmp_path: Path) -> None:
    limits = limits_folder(tmp_path / "limits")
    for revision in ("0", "1"):
        write_limits(limits / "archive", "tarn2.toml", f"{revision}.toml", revision=revision)
    with works(tmp_path, limits) as here:
        with pytest.raises(RefusedInputError, match=r"several revisions: 0 .*1 .* --revision"):
            here.desk.look_up(UNIT)
        assert here.desk.look_up(UNIT, "1").revision == "1"
        with pytest.raises(RefusedInputError, match="No limit file of revision 7"):
            here.desk.look_up(UNIT, "7")
