"""Which part is likely at fault, by commands: of a stored run, a recording, and repairs counted."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from station.cycle.stored.confirmed import comparisons, tally_of
from station.records.log.log import RunLog
from tests.cycle.line import LIMITS

PASS, FAIL, REFUSED = 0, 1, 2
UNIT = "T2A00710"


@pytest.fixture
def line(tmp_path: Path) -> tuple[str | Path, ...]:
    return "--simulate", "--limits-folder", LIMITS, "--logs", tmp_path


def test_a_wrong_capacitor_is_named_with_its_value(
    station: Any, line: tuple[str | Path, ...], tmp_path: Path
) -> None:
    tested = station("test", UNIT, "--fault", "wrong_capacitor=0.45", "--json", *line)
    assert tested.code == FAIL
    suspect = tested.runs()[0]["suspect"]
    assert suspect["finding"] == "suspects"
    first = suspect["suspects"][0]
    assert (first["part"], first["found"]) == ("C2", "value")
    # 4.7 µF inside 5 %, and 45 % more
    assert first["estimate"]["value"] == pytest.approx(4.7e-6 * 1.45, rel=0.06)
    assert first["estimate"]["unit"] == "F"
    assert first["check"] == "Unsolder one end of C2 and measure it."
    shown = station("suspect", UNIT, *line)
    assert shown.code == PASS
    assert "C2 reads" in shown.out
    assert "Unsolder one end of C2" in shown.out
    assert "Hardly shows" in shown.out
    told = json.loads(station("suspect", UNIT, "--json", *line).out)
    assert told["suspects"][0]["part"] == "C2"
    assert (told["serial"], told["verdict"]) == (UNIT, "fail")
    recording = next((tmp_path / "simulated" / "recordings").glob("*.flac"))
    again = station(
        "suspect", "--recording", recording, "--limits", LIMITS / "tarn2.toml", "--json"
    )
    assert json.loads(again.out)["suspects"] == told["suspects"]
    judged = station("judge", recording, "--limits", LIMITS / "tarn2.toml", "--json")
    assert judged.runs()[0]["suspect"]["suspects"][0]["part"] == "C2"


def test_a_good_unit_has_no_suspect(station: Any, line: tuple[str | Path, ...]) -> None:
    tested = station("test", UNIT, "--json", *line)
    assert tested.runs()[0]["suspect"] is None
    shown = station("suspect", UNIT, *line)
    assert shown.code == PASS
    assert "No run of it failed" in shown.out
    assert "inside their tolerances" in shown.out


def test_a_model_without_netlist_says_so(station: Any, line: tuple[str | Path, ...]) -> None:
    assert station("test", "S12A00710", "--fault", "reversed_woofer", *line).code == FAIL
    shown = station("suspect", "S12A00710", *line)
    assert shown.code == PASS
    assert "There is no impedance to look into." in shown.out


def test_a_repair_is_counted_for_or_against_the_suspect(
    station: Any, line: tuple[str | Path, ...], tmp_path: Path
) -> None:
    by = ("--by", "T. Beck")
    assert "No repair has confirmed" in station_after_one_test(station, line)
    station("service", "open", UNIT, "--complaint", "Dull.", *by, *line)
    station("service", "test", UNIT, "--fault", "open_crossover_part=3", *by, *line)
    station("service", "cause", UNIT, "c2", "--words", "Cracked joint.", *by, *line)
    station("service", "cause", UNIT, "woofer", "--words", "A guess.", *by, *line)
    shown = station("repairs", *line)
    assert shown.code == PASS
    assert "suspected first in 1, among the first three in 1" in shown.out
    told = json.loads(station("repairs", "--json", *line).out)
    assert (told["compared"], told["first"], told["in_first_few"]) == (2, 1, 1)
    assert [one["place"] == 1 for one in told["repairs"]] == [True, False]
    with RunLog.open(tmp_path / "simulated") as log:
        assert tally_of(comparisons(log, None)).first == 1


def station_after_one_test(station: Any, line: tuple[str | Path, ...]) -> str:
    station("test", UNIT, *line)
    return str(station("repairs", *line).out)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "Give a serial number"),
        ((UNIT, "--recording", "x.flac"), "Give a serial number"),
        (("T2A09999",), "There is no log"),
    ],
)
def test_wrong_use_is_refused(
    station: Any, tmp_path: Path, arguments: tuple[str, ...], words: str
) -> None:
    refused = station("suspect", *arguments, "--logs", tmp_path / "none")
    assert refused.code == REFUSED
    assert words in refused.err
