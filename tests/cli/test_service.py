"""A unit that came back, by commands alone: looked up, tested, repaired, compared, closed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from station.cli.service.technician import SimulatedDesk
from station.simulation.factory.returns import ReturnedUnits
from tests.cycle.line import LIMITS
from tests.demo_limits.release import release_all
from tests.service.bench import limits_folder, works, write_limits

PASS, FAIL, REFUSED = 0, 1, 2
UNIT, PARTNER = "T2A00301", "T2A00302"


@pytest.fixture
def line(tmp_path: Path) -> tuple[str | Path, ...]:
    limits = limits_folder(tmp_path / "limits")
    release_all(limits)
    return "--simulate", "--limits-folder", limits, "--logs", tmp_path / "logs"


@pytest.mark.usefixtures("pdf_libraries")
def test_a_service_goes_from_look_up_to_closed(station: Any, tmp_path: Path) -> None:
    # production goes by the demo's own limit files, as they are
    line = ("--simulate", "--limits-folder", LIMITS, "--logs", tmp_path / "logs")

    def service(command: str, *arguments: str, by: bool = True) -> Any:
        named = ("--by", "T. Beck") if by else ()
        return station("service", command, UNIT, *arguments, *named, *line)

    for serial in (UNIT, PARTNER):
        assert station("test", serial, *line).code == PASS
    assert "Left the factory" in service("show", by=False).out
    opened = service("open", "--complaint", "No treble.")
    assert "test it before the repair" in opened.out
    before = service("test", "--fault", "dead_tweeter", "--json")
    assert before.code == FAIL
    told = before.runs()[0]
    assert (told["when"], told["limits_from"]) == ("before", "run")
    assert told["as_built"]["within"] is False
    assert "lot 7" in service("part", "tweeter", "--batch", "lot 7", "--reason", "Open.").out
    assert service("cause", "tweeter", "--words", "Coil open.").code == PASS
    after = service("test")
    assert after.code == PASS
    assert "As built: INSIDE its limits." in after.out
    assert "Check the partner" in after.out
    assert service("partner", PARTNER).code == PASS
    assert "is closed" in service("close", "--words", "Returned.").out
    shown = json.loads(service("show", "--json", by=False).out)
    (stay,) = shown["services"]
    assert stay["open"] is False
    assert [step["kind"] for step in stay["steps"]] == [
        "before", "part", "cause", "after", "partner", "closed",
    ]  # fmt: skip
    assert [step["by"] for step in stay["steps"]] == ["T. Beck"] * 6
    out = ("--out", tmp_path / "paper")
    assert station("certificate", UNIT, *line, *out).code == PASS
    assert station("verify-log", "--simulate", "--logs", tmp_path / "logs").code == PASS


def test_an_old_record_is_imported_with_where_it_comes_from(
    station: Any, line: tuple[str | Path, ...], tmp_path: Path
) -> None:
    file = tmp_path / "old.csv"
    about = (
        "--serial", UNIT, "--model", "Tarn 2", "--revision", "A", "--measured", "1998",
        "--origin", "Paper file 12", "--by", "T. Beck",
    )  # fmt: skip
    file.write_text("name,hz,value,unit\nfs,,sixty,Hz\n", encoding="utf-8")
    refused = station("service", "import", file, *about, *line)
    assert refused.code == REFUSED
    assert "old.csv:2: 'sixty' is not a number" in refused.err
    file.write_text("name,hz,value,unit\nfs,,61.5,Hz\n", encoding="utf-8")
    assert station("service", "import", file, *about, *line).code == PASS
    shown = station("service", "show", UNIT, *line).out
    assert "record of 1998, Paper file 12" in shown
    assert "not in the log" in shown
    assert "61.5" in shown
    missing = station("service", "import", tmp_path / "none.csv", *about, *line)
    assert missing.code == REFUSED
    assert "cannot be read" in missing.err


@pytest.mark.usefixtures("pdf_libraries")
def test_a_unit_older_than_the_log_says_so_on_its_paper(
    station: Any, line: tuple[str | Path, ...], tmp_path: Path
) -> None:
    write_limits(tmp_path / "limits" / "archive", "tarn2.toml", "t0.toml", revision="0")
    release_all(tmp_path / "limits" / "archive")
    service = ("service", "--by", "T. Beck")
    assert station("service", "open", UNIT, *service[1:], *line).code == PASS
    assert station("service", "test", UNIT, *service[1:], *line).code == PASS
    assert station("certificate", UNIT, *line, "--out", tmp_path).code == PASS
    page = (tmp_path / f"{UNIT}-certificate.html").read_text(encoding="utf-8")
    for words in (
        "This unit is older than the log.",
        "They come from the archive of old limit files.",
        "Limits of revision 0: t0.toml",
        "Nothing is known of the unit as built.",
    ):
        assert words in page


def test_what_makes_no_sense_is_refused(station: Any, line: tuple[str | Path, ...]) -> None:
    refused = station("service", "test", UNIT, "--by", "T. Beck", *line)
    assert refused.code == REFUSED
    assert "is not in service" in refused.err
    unknown = station("service", "show", "Q1", *line)
    assert unknown.code == REFUSED
    assert "No limit file" in unknown.err
    planted = station(
        "service", "test", UNIT, "--by", "B", "--fault", "dead_tweeter",
        "--limits-folder", LIMITS,
    )  # fmt: skip
    assert planted.code == REFUSED
    assert "simulated units only" in planted.err


def test_at_a_simulated_desk_the_right_part_mends_the_unit(tmp_path: Path) -> None:
    units = ReturnedUnits(1)
    assert units.faults_of("T2A00101") == {"reversed_woofer": 1.0}
    with works(tmp_path, limits_folder(tmp_path / "limits")) as here:
        desk = SimulatedDesk(here.desk, units)
        desk.open("T2A00101", "T. Beck", "")
        desk.replace_part("T2A00101", "T. Beck", "woofer", "", "")
        assert units.faults_of("T2A00101") == {}
        assert [s.part for s in desk.look_up("T2A00101").services[0].steps] == ["woofer"]


def test_a_units_verdicts_are_replayed_from_the_log(
    station: Any, line: tuple[str | Path, ...], tmp_path: Path
) -> None:
    assert station("test", UNIT, *line).code == PASS
    assert station("test", UNIT, "--fault", "dead_tweeter", *line).code == FAIL
    # without the limits they were judged by
    elsewhere = ("--simulate", "--logs", tmp_path / "logs", "--limits-folder", tmp_path / "none")
    shown = station("replay", UNIT, *elsewhere)
    assert shown.code == PASS
    assert shown.out.count("The same, every number to the last bit.") == 2
    first, second = station("replay", UNIT, "--json", *elsewhere).runs()
    assert (first["stored"], first["again"], first["same"]) == ("pass", "pass", True)
    assert (second["stored"], second["again"], second["moved"]) == ("fail", "fail", [])
    assert station("replay", "X1", *elsewhere).code == REFUSED
