"""Services are kept step by step for ever, and say which part each repair confirmed."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from station.errors import RecordsError
from station.records.kept.service import ConfirmedCause, LimitsFrom, StepKind
from station.records.log.log import RunLog
from station.records.log.services import ServiceLog
from tests.records.example import example_imported, example_run, example_service, example_step
from tests.records.same import same


def test_a_service_comes_back_with_its_steps_and_says_whether_it_is_open(tmp_path: Path) -> None:
    opened = (
        example_service(),
        example_service(service_id="s2", limits_from=LimitsFrom.ARCHIVE, as_built=""),
    )
    steps = (
        example_step(kind=StepKind.BEFORE, run_id="r1", part="", batch="", words=""),
        example_step(step_id="t2"),
        example_step(step_id="t3", kind=StepKind.CLOSED, part="", batch="", words="Returned."),
    )
    with RunLog.open(tmp_path) as log:
        log.store(example_run(run_id="r1"))
        for service in opened:
            ServiceLog(log).open_service(service)
        for step in steps:
            ServiceLog(log).add_step(step)
    with RunLog.open(tmp_path) as log:
        first, second = ServiceLog(log).services_of("T2A00123")
        assert same((first.service, second.service), opened)
        assert same(first.steps, steps)
        assert (first.is_open, second.is_open) == (False, True)
        assert first.of_kind(StepKind.PART) == (steps[1],)
        assert ServiceLog(log).services_of("T2A00124") == ()
        assert log.chain_fault() is None


def test_an_imported_record_comes_back_with_its_text(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        ServiceLog(log).import_record(example_imported())
        assert same(ServiceLog(log).imported_records_of("T2A00123"), (example_imported(),))


@pytest.mark.parametrize(
    "change",
    [
        {"made_by": ""},
        {"kind": StepKind.PART, "part": ""},
        {"kind": StepKind.BEFORE, "part": ""},
        {"kind": StepKind.AFTER, "part": "", "run_id": "never stored"},
        {"kind": StepKind.PARTNER, "part": ""},
        {"service_id": "never opened"},
    ],
)
def test_a_step_that_makes_no_sense_is_refused(tmp_path: Path, change: dict[str, object]) -> None:
    with RunLog.open(tmp_path) as log:
        ServiceLog(log).open_service(example_service())
        with pytest.raises(RecordsError, match="refused the entry"):
            ServiceLog(log).add_step(example_step(**change))
        assert ServiceLog(log).services_of("T2A00123")[0].steps == ()


def test_a_closed_service_takes_no_more_steps(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        ServiceLog(log).open_service(example_service())
        ServiceLog(log).add_step(example_step(kind=StepKind.CLOSED, part=""))
        with pytest.raises(RecordsError, match="the service is closed"):
            ServiceLog(log).add_step(example_step(step_id="t2"))


def test_an_id_is_used_once_and_a_time_has_a_zone(tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        ServiceLog(log).open_service(example_service())
        with pytest.raises(ValueError, match="has a service s1"):
            ServiceLog(log).open_service(example_service())
        with pytest.raises(ValueError, match="no time zone"):
            ServiceLog(log).add_step(example_step(made_utc=datetime(2026, 1, 3)))


def test_a_confirmed_cause_names_the_newest_run_before_it(tmp_path: Path) -> None:
    bare = {"part": "", "batch": "", "words": ""}
    with RunLog.open(tmp_path) as log:
        services = ServiceLog(log)
        for run_id in ("r1", "r2", "r3"):
            log.store(example_run(run_id=run_id))
        services.open_service(example_service())
        services.open_service(example_service(service_id="s2", serial="F6A00001", model="Fell 60"))
        for step in (
            example_step(step_id="t1", kind=StepKind.BEFORE, run_id="r1", **bare),
            example_step(step_id="t2", kind=StepKind.BEFORE, run_id="r2", **bare),
            example_step(step_id="t3", kind=StepKind.CAUSE, part="C2", words="Open."),
            example_step(step_id="t4", kind=StepKind.AFTER, run_id="r3", **bare),
            example_step(step_id="t5", service_id="s2", kind=StepKind.CAUSE, part="panel"),
        ):
            services.add_step(step)
        assert services.confirmed_causes() == (
            ConfirmedCause("T2A00123", "Tarn 2", "C2", "Open.", "r2"),
            ConfirmedCause("F6A00001", "Fell 60", "panel", "Coil open.", None),
        )
