"""A gauge study is planned, guided, and told by commands alone, on simulated units."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from station.cli.shared.exitcodes import Exit
from station.records.log.gauges import GaugeLog
from station.records.log.log import RunLog
from tests.quality.production import run_of_unit

LIMITS = Path(__file__).parents[2] / "limits"
UNITS = ("S12A00017", "S12A00018", "S12A00019")


def test_a_study_from_plan_to_page(station: Any, tmp_path: Path) -> None:
    where = ("--simulate", "--logs", tmp_path)
    planned = station(
        "gauge", "plan", "--units", ",".join(UNITS), "--operators", "Ann,Ben", "--repeats", "2",
        "--by", "Q. Lind", "--title", "New fixture", "--limits-folder", LIMITS, *where,
    )  # fmt: skip
    assert planned.code == Exit.PASS
    assert "12 measurements in an order drawn by chance" in planned.out
    early = station("gauge", "report", "G1", *where)
    assert early.code == Exit.REFUSED
    assert "lacks 12 of 12 measurements. Go on with 'station gauge measure G1'." in early.err
    measure = ("gauge", "measure", "G1", "--limits-folder", LIMITS, *where)
    part = station(*measure, "--at-most", "5")
    assert part.code == Exit.PASS
    assert "Step 5 of 12" in part.out
    assert "5 of 12" in station("gauge", "list", *where).out
    rest = station(*measure)
    assert "Step 6 of 12" in rest.out
    assert "Step 12 of 12" in rest.out
    assert "is complete" in station(*measure).out
    page = tmp_path / "gauge.html"
    told = json.loads(station("gauge", "report", "G1", *where, "--json", "--page", page).out)
    gauge, lower, upper = told["numbers"]["sensitivity"]["gauge"]
    assert 0.0 < lower <= gauge <= upper
    assert told["units"] == list(UNITS)
    assert len(told["curves"]["response"]["gauge"][0]) == len(told["curves"]["response"]["hz"])
    assert "between operators" in station("gauge", "report", "G1", *where).out
    assert "<svg" in page.read_text(encoding="utf-8")
    with RunLog.open(tmp_path / "simulated") as log:
        runs = GaugeLog(log).runs("G1")
        assert sorted(runs) == list(range(1, 13))
        assert all(runs[s.number].serial == s.serial for s in GaugeLog(log).plans()[0].steps)
    watched = station("watch", "yield", *where)
    assert watched.code == Exit.REFUSED  # a gauge study is no production
    alone = station("gauge", "stations", "S12A00017", *where)
    assert alone.code == Exit.REFUSED
    assert "Two stations with 2 runs of S12A00017 or more are needed" in alone.err


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"--units": "S12A00017"}, "A study needs 2 units or more."),
        ({"--operators": "Ann,Ann"}, "The operator Ann is named twice."),
        ({"--units": "S12A00017,T2A00001"}, "several models: Scree 12, Tarn 2"),
        ({"--units": "S12A00017,nobody"}, "nobody"),
    ],
)
def test_a_plan_that_shows_nothing_is_refused(
    station: Any, tmp_path: Path, changes: dict[str, str], said: str
) -> None:
    given = {"--units": ",".join(UNITS), "--operators": "Ann,Ben", "--by": "Q"} | changes
    listed = [word for pair in given.items() for word in pair]
    shown = station("gauge", "plan", *listed, "--limits-folder", LIMITS, "--logs", tmp_path)
    assert shown.code == Exit.REFUSED
    assert said in shown.err


def test_a_study_nobody_planned_is_refused(station: Any, tmp_path: Path) -> None:
    RunLog.open(tmp_path / "simulated").close()
    shown = station("gauge", "report", "G7", "--simulate", "--logs", tmp_path)
    assert shown.code == Exit.REFUSED
    assert "There is no gauge study 'G7'. The log has: none yet." in shown.err


def test_stations_are_compared_over_their_logs(station: Any, tmp_path: Path) -> None:
    for name, level_db in (("east", 86.0), ("west", 86.4)):
        with RunLog.open(tmp_path / name) as log:
            for n, off_db in enumerate((-0.1, 0.1)):
                run = run_of_unit(f"{name}{n}", "T2A00000", n, level_db + off_db, 56.0 + n)
                log.store(replace(run, setup=replace(run.setup, station_name=name)))
    where = ("--logs", tmp_path / "east", "--other-logs", tmp_path / "west")
    shown = station("gauge", "stations", "T2A00000", *where)
    assert shown.code == Exit.PASS
    assert "86.00 (2)" in shown.out
    told = json.loads(station("gauge", "stations", "T2A00000", *where, "--json").out)
    assert told["numbers"]["sensitivity"]["f_ratio"] == pytest.approx(8.0)  # by hand: 0.16 / 0.02
