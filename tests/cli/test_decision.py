"""A decision rule from the limit file to the terminal, the JSON and the log."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from station.cli.shared.exitcodes import Exit
from tests.demo_limits.release import release_all

LIMITS = Path(__file__).parents[2] / "limits"
RULE = """
[decision]
rule = "guarded"
k = 2.0
r = 1.0

[[decision.uncertainties]]
reading = "idle_noise"
standard = 0.3

[[decision.uncertainties]]
reading = "response"
points = [[30.0, 0.05], [150.0, 0.02]]
"""


@pytest.fixture
def limits(tmp_path: Path) -> Path:
    """Return a folder with one limit file that has a decision rule."""
    folder = tmp_path / "limits"
    folder.mkdir()
    for pattern in LIMITS.glob("scree12*.json"):
        shutil.copy(pattern, folder)
    text = (LIMITS / "scree12.toml").read_text(encoding="utf-8")
    (folder / "scree12.toml").write_text(text + RULE, encoding="utf-8")
    release_all(folder)
    return folder


def test_a_run_names_its_rule_and_risk_wherever_it_is_shown(
    station: Any, tmp_path: Path, limits: Path
) -> None:
    where = ("--simulate", "--logs", tmp_path)
    shown = station("test", "S12A00017", "--limits-folder", limits, *where)
    assert shown.code == Exit.PASS, shown.out + shown.err
    assert "Limits moved inside by 1 × U (k = 2); consumer's risk" in shown.out
    (stored,) = station("history", "S12A00017", *where, "--json").runs()
    decision = stored["decision"]
    assert (decision["rule"], decision["r"], decision["k"]) == ("guarded", 1.0, 2.0)
    assert decision["risk"]["whose"] == "consumer"
    assert 0.0 <= decision["risk"]["probability"] < 0.5
    noise = decision["readings"]["idle_noise"]
    assert noise["guard"] == pytest.approx(0.6)
    assert noise["tolerance"][1] - noise["acceptance"][1] == pytest.approx(0.6)
    assert noise["tolerance"][0] is None
    recording = tmp_path / "simulated" / "recordings" / stored["recording"]
    again = station("judge", recording, "--limits", limits / "scree12.toml", "--json")
    assert json.loads(again.out)["decision"] == decision


def test_without_a_rule_there_is_none(station: Any, tmp_path: Path) -> None:
    where = ("--simulate", "--logs", tmp_path)
    shown = station("test", "S12A00017", "--limits-folder", LIMITS, *where, "--json")
    assert shown.runs()[-1]["decision"] is None
