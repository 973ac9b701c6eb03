"""The quality engineer watches, exports, and finds out what moved, by commands alone."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from station.cli.shared.exitcodes import Exit
from station.records.kept.run import SetApart
from station.records.kept.service import StepKind
from station.records.log.log import RunLog
from station.records.log.services import ServiceLog
from tests.quality.biglog import fill_log
from tests.quality.populations import smooth_readings
from tests.quality.production import Story, stored
from tests.quality.storedunits import stored as curves_stored
from tests.records.example import example_run, example_service, example_step

STORY = Story(units=260, moves_at=160, station_db=-0.3)


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("logs")
    with RunLog.open(folder) as log:
        stored(log, STORY)
    return folder


def test_a_drift_raises_one_clear_alarm_that_names_the_station(station: Any, logs: Path) -> None:
    shown = station("watch", "alarms", "--logs", logs)
    assert shown.code == Exit.PASS
    first, cause, *also = shown.out.splitlines()
    assert first.startswith("ALARM  Tarn 2: sensitivity has moved down by 0.")
    assert cause.startswith("It is the station: the reference unit moved by −0.")
    assert not also
    told = json.loads(station("watch", "alarms", "--logs", logs, "--json").out)
    assert told["alarms"][0]["drift"]["moved"] == "station"
    assert told["references"] == ["T2A00000"]


def test_before_it_drifted_nothing_had_moved(station: Any, logs: Path) -> None:
    shown = station("watch", "alarms", "--logs", logs, "--until", "2026-11-23T08:00")
    assert shown.out == "Nothing has moved: 2 readings are where the baseline was.\n"
    early = station("watch", "alarms", "--logs", logs, "--until", "2026-11-23T05:30")
    assert early.out == "Nothing can be charted yet: 100 units are needed.\n"


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (("yield", "--by", "model"), "Tarn 2 A"),
        (("yield", "--by", "hour"), "2026-11-23 09:00"),
        (("yield", "--by", "shift", "--shift-starts", "05:00,13:00"), "2026-11-23 05:00"),
        (("capability",), "sensitivity"),
        (("risk",), "85.1 to 87.9"),
        (("causes",), "No unit failed."),
    ],
)
def test_every_view_is_a_table_and_an_object(
    station: Any, logs: Path, arguments: tuple[str, ...], word: str
) -> None:
    shown = station("watch", *arguments, "--logs", logs)
    assert shown.code == Exit.PASS
    assert word in shown.out
    assert json.loads(station("watch", *arguments, "--logs", logs, "--json").out)["format"] == 1


def test_curves_are_told_octave_by_octave_with_the_worst_point(
    station: Any, tmp_path: Path
) -> None:
    fill_log(tmp_path, curves_stored(smooth_readings(np.random.default_rng(25), 120, 0.6)))
    shown = station("watch", "capability", "--logs", tmp_path)
    assert shown.code == Exit.PASS
    assert "Worst point: Tarn 2, response at 1 kHz, Ppk " in shown.out
    told = json.loads(station("watch", "capability", "--logs", tmp_path, "--json").out)
    assert [one["octave_hz"] for one in told["curves"]] == [125, 250, 500, 1000, 2000, 4000, 8000]
    assert (told["worst"]["reading"], told["worst"]["n"]) == ("response", 120)
    page = tmp_path / "watch.html"
    at = ("--at", "response@1000")
    assert station("watch", "page", page, "--logs", tmp_path, *at).code == Exit.PASS
    text = page.read_text(encoding="utf-8")
    assert "Capability along curves" in text
    assert "Tarn 2: response at 1 kHz in dB" in text  # its charts
    told = json.loads(station("watch", "alarms", "--logs", tmp_path, *at, "--json").out)
    assert told["charted"] == 2  # the sensitivity, and the curve at 1 kHz
    for wrong in ("response", "response@loud", "response@-5", "@1000"):
        refused = station("watch", "alarms", "--logs", tmp_path, "--at", wrong)
        assert refused.code == Exit.REFUSED
        assert "is no curve at a frequency" in refused.err


def test_runs_in_service_do_not_count_and_their_number_is_said(
    station: Any, tmp_path: Path
) -> None:
    with RunLog.open(tmp_path) as log:
        stored(log, Story(units=30))
        ServiceLog(log).open_service(example_service(serial="T2A00004"))
        step = example_step(kind=StepKind.BEFORE, run_id="r3", part="")
        ServiceLog(log).add_step(step)
    shown = station("watch", "yield", "--by", "model", "--logs", tmp_path)
    assert shown.out.splitlines()[-1] == "Left out, being no production: 1 run in service."
    told = json.loads(station("watch", "yield", "--logs", tmp_path, "--json").out)
    assert told["left_out"] == {"trials": 0, "gauge": 0, "service": 1, "check": 0}
    assert sum(period["units"] for period in told["periods"]) == 29
    page = tmp_path / "watch.html"
    assert station("watch", "page", page, "--logs", tmp_path).code == Exit.PASS
    assert "1 run in service" in page.read_text(encoding="utf-8")
    shift = ("--from", "2026-11-23T00:00", "--to", "2026-11-24T00:00", "--logs", tmp_path)
    assert "1 run in service" in station("shift-report", *shift).out


def test_station_checks_do_not_count_and_their_number_is_said(station: Any, tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        stored(log, Story(units=30, marked=True))
    shift = ("--from", "2026-11-23T00:00", "--to", "2026-11-24T00:00", "--logs", tmp_path)
    said = "Left out, being no production: 2 runs of reference units."
    assert said in station("shift-report", *shift).out
    told = json.loads(station("shift-report", *shift, "--json").out)
    assert told["left_out"] == {"trials": 0, "gauge": 0, "service": 0, "check": 2}
    (model,) = told["models"]
    assert (model["units"], model["runs"]) == (30, 30)
    page = tmp_path / "watch.html"
    assert station("watch", "page", page, "--logs", tmp_path).code == Exit.PASS
    text = page.read_text(encoding="utf-8")
    assert f"30 units, 30 runs. {said}" in text


def test_the_page_needs_nothing_but_itself(station: Any, logs: Path, tmp_path: Path) -> None:
    page = tmp_path / "watch.html"
    assert station("watch", "page", page, "--logs", logs).code == Exit.PASS
    text = page.read_text(encoding="utf-8")
    assert "ALARM" in text
    assert "weighted means" in text
    for outside in ("http:", "https:", "src=", "href=", "url(", "@import", "<script", "<link"):
        assert outside not in text.replace("http://www.w3.org/2000/svg", "")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("watch", "yield", "--by", "shift"), "--shift-starts"),
        (("watch", "yield", "--since", "yesterday"), "'yesterday' is no date or time."),
        (("watch", "causes", "--model", "Fell 60"), "no unit of production"),
        (("watch", "yield", "--by", "shift", "--shift-starts", "25:00"), "no time of day"),
    ],
)
def test_what_cannot_be_watched_is_said_in_a_sentence(
    station: Any, logs: Path, arguments: tuple[str, ...], said: str
) -> None:
    shown = station(*arguments, "--logs", logs)
    assert shown.code == Exit.REFUSED
    assert said in shown.err


def test_a_log_that_is_not_there_is_said(station: Any, tmp_path: Path) -> None:
    for command in (("watch", "yield"), ("export", tmp_path / "out"), ("gauge", "list")):
        shown = station(*command, "--logs", tmp_path / "none")
        assert shown.code == Exit.REFUSED
        assert "There is no log in" in shown.err


def test_runs_numbers_and_curves_are_written_as_tables(station: Any, tmp_path: Path) -> None:
    run = example_run()
    with RunLog.open(tmp_path) as log:
        log.store(run)
        log.store(replace(example_run(run_id="checked"), set_apart=SetApart.CHECK))
    assert station("export", tmp_path / "out", "--logs", tmp_path).code == Exit.PASS
    tables = {
        name: list(
            csv.DictReader((tmp_path / "out" / f"{name}.csv").read_text("utf-8").splitlines())
        )
        for name in ("runs", "numbers", "curves")
    }
    assert tables["runs"][0]["run_id"] == run.run_id
    assert tables["runs"][0]["verdict"] == "fail"
    assert [row["set_apart"] for row in tables["runs"]] == ["", "check"]
    tables = {
        name: [row for row in rows if row["run_id"] == run.run_id] for name, rows in tables.items()
    }
    numbers = {row["reading"]: row for row in tables["numbers"]}
    assert float(numbers["sensitivity"]["value"]) == run.readings.numbers["sensitivity"].value
    assert numbers["fs"]["value"] == ""
    response = [row for row in tables["curves"] if row["reading"] == "response"]
    curve = run.readings.curves["response"]
    assert [float(row["hz"]) for row in response] == curve.frequency_hz.tolist()
    assert [float(row["value"]) for row in response] == curve.values.tolist()


def test_parquet_holds_the_same_or_says_what_is_missing(station: Any, tmp_path: Path) -> None:
    with RunLog.open(tmp_path) as log:
        log.store(example_run())
    shown = station("export", tmp_path / "out", "--as", "parquet", "--logs", tmp_path)
    if find_spec("pyarrow") is None:
        assert shown.code == Exit.REFUSED
        assert "pip install 'station[parquet]'" in shown.err
        return
    parquet = pytest.importorskip("pyarrow.parquet")
    numbers = parquet.read_table(tmp_path / "out" / "numbers.parquet").to_pylist()
    assert math.isnan(next(row["value"] for row in numbers if row["reading"] == "fs"))
    runs = parquet.read_table(tmp_path / "out" / "runs.parquet").to_pylist()
    assert runs[0]["temperature_c"] == 21.25
