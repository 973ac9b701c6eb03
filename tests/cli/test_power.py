from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

from station.cli.running import exit_code_of
from tests.cycle.line import LIMITS

PASS, REFUSED, FAULT = 0, 2, 4
SCREE = LIMITS / "scree12.toml"
SMALL = ("--units", "1", "--per-rung", "1", "--faults", "dead_woofer, station_silent_microphone")


def test_a_study_is_told_as_text_data_and_a_page(station: Any, tmp_path: Path) -> None:
    first = station("power", "--limits", SCREE, *SMALL, "--out", tmp_path)
    assert first.code == PASS
    for words in ("Scree 12", "dead_woofer", "1 of 1 = 100 %", "station_silent_microphone",
                  "units per second and core", "rejected by mistake"):  # fmt: skip
        assert words in first.out
    assert "units tested: 3 of 3" in first.err
    page = (tmp_path / "power.html").read_text()
    assert page.startswith("<!doctype html>")
    again = station("power", "--limits", SCREE, *SMALL, "--out", tmp_path, "--json")
    found = json.loads(again.out)
    assert found == json.loads((tmp_path / "power.json").read_text())
    assert found["faults"][0]["every"]["fail"]["ratio"] == 1.0
    assert found["station"][0]["every"]["void"]["ratio"] == 1.0


def test_a_folder_with_another_study_is_refused(station: Any, tmp_path: Path) -> None:
    assert station("power", "--limits", SCREE, *SMALL, "--out", tmp_path).code == PASS
    refused = station("power", "--limits", SCREE, *SMALL, "--out", tmp_path, "--seed", "2")
    assert refused.code == REFUSED
    assert "another seed: 1, now 2" in refused.err
    changed = tmp_path / "limits" / "scree12.toml"
    shutil.copytree(LIMITS, changed.parent)
    changed.write_text(changed.read_text() + "\n# one more remark\n")
    refused = station("power", "--limits", changed, *SMALL, "--out", tmp_path)
    assert refused.code == REFUSED
    assert "another text of the limit file" in refused.err


def test_wrong_faults_and_files_are_refused(station: Any, tmp_path: Path) -> None:
    for faults, words in (("rust", "no fault called"), ("low_bias", "cannot have"), (",", "No fa")):
        refused = station("power", "--limits", SCREE, "--faults", faults)
        assert refused.code == REFUSED
        assert words in refused.err
    assert station("power", "--limits", tmp_path / "none.toml").code == REFUSED


def test_a_study_stopped_by_the_keyboard_says_how_to_go_on(
    monkeypatch: Any, tmp_path: Path, capsys: Any
) -> None:
    def interrupted(*_: Any, on_done: Any, **__: Any) -> None:
        on_done(2, 3)
        raise KeyboardInterrupt

    monkeypatch.setattr("station.cli.limits.power.power_study", interrupted)
    code = exit_code_of(["power", "--limits", str(SCREE), *SMALL, "--out", str(tmp_path)])
    assert code == FAULT
    assert f"2 units are kept in {tmp_path}" in capsys.readouterr().err
