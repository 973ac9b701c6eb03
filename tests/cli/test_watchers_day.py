"""A quality engineer's day on a simulated line, by commands alone: a drift is found out."""

from __future__ import annotations

import json
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from station.cli.line.demo import ignore
from station.cli.shared.exitcodes import Exit
from station.cli.wiring.wiring import ready_cycle, simulated_bench

LIMITS = Path(__file__).parents[2] / "limits"
REFERENCE = "S12A00000"
DRIFTS_AT, UNITS, AGED_DB = 22, 34, 1.0
AGED: Mapping[str, float] = {"station_aged_microphone": AGED_DB}


def shift_played(logs: Path) -> None:
    """Test a shift of one model; the reference unit comes round every fourth time."""
    state: dict[str, Mapping[str, float]] = {"faults": {}}
    with (
        simulated_bench(1, lambda _: state["faults"], paced=False) as bench,
        ready_cycle(bench, LIMITS, logs) as cycle,
    ):
        for n in range(UNITS):
            state["faults"] = AGED if n >= DRIFTS_AT else {}
            serials = [f"S12A{1000 + n:05d}"]
            for serial in [REFERENCE, *serials] if n % 4 == 0 else serials:
                cycle.test_unit(serial, on_progress=ignore, stop=threading.Event())


@pytest.mark.slow  # the engineer's day goes the same way, on screens too
def test_watch_alarm_and_gauge_study_without_a_line_of_code(station: Any, tmp_path: Path) -> None:
    shift_played(tmp_path)
    where = ("--simulate", "--logs", tmp_path)
    charts = ("--subgroup", "2", "--baseline", "20", "--reference", REFERENCE)
    shown = station("watch", "yield", "--by", "model", *where)
    assert shown.code == Exit.PASS
    assert "Scree 12" in shown.out
    told = json.loads(station("watch", "alarms", *where, *charts, "--json").out)
    assert told["references"] == [REFERENCE]
    assert {one["model"] for one in told["alarms"]} == {"Scree 12"}
    level = next(one for one in told["alarms"] if one["reading"] == "sensitivity")
    assert abs(level["moved"] + AGED_DB) < 0.25
    assert not level["above"]  # an aged microphone hears less
    assert level["drift"]["moved"] == "station"
    assert "It is the station" in "\n".join(told["said"])
    planned = station(
        "gauge", "plan", "--units", "S12A01001,S12A01002", "--operators", "Ann,Ben",
        "--repeats", "2", "--by", "Q. Lind", "--limits-folder", LIMITS, *where,
    )  # fmt: skip
    assert planned.code == Exit.PASS
    assert station("gauge", "measure", "G1", "--limits-folder", LIMITS, *where).code == Exit.PASS
    report = station("gauge", "report", "G1", "--page", tmp_path / "gauge.html", *where)
    assert "[[decision.uncertainties]]" in report.out
    assert station("watch", "page", tmp_path / "watch.html", *where, *charts).code == Exit.PASS
    assert station("export", tmp_path / "out", *where).code == Exit.PASS
    for name in ("gauge.html", "watch.html", "out/curves.csv"):
        assert (tmp_path / name).stat().st_size > 10_000
