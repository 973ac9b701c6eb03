"""The study beside each demo limit file is of that file, and says what it promises."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from station.analysis.statistics.proportions import proportion
from station.judging.files.shelf import shelved
from station.study.jobs import ladders_for
from tests.cycle.line import LIMITS
from tests.demo_limits.studies import deciding_sha256, study_path

NAMES = ("tarn2", "fell60", "scree12")


def study(name: str) -> dict[str, Any]:
    return dict(json.loads(study_path(LIMITS / f"{name}.toml").read_text(encoding="utf-8")))


@pytest.mark.parametrize("name", NAMES)
def test_a_study_belongs_to_the_present_limit_file(name: str) -> None:
    taken = shelved(LIMITS / f"{name}.toml")
    found = study(name)
    assert found["deciding_sha256"] == deciding_sha256(taken.text), (
        "The limit file changed: study it anew, or take the change back."
    )
    model = taken.limits.model
    assert (found["model"], found["revision"]) == (model.name, model.revision)


def test_a_limit_that_moves_makes_a_study_stale_and_a_remark_does_not() -> None:
    text = (LIMITS / "tarn2.toml").read_text(encoding="utf-8")
    assert deciding_sha256(text + "\n# a remark\n") == deciding_sha256(text)
    moved = text.replace("lower = 0.7", "lower = 0.6", 1)
    assert moved != text
    assert deciding_sha256(moved) != deciding_sha256(text)


@pytest.mark.parametrize("name", NAMES)
def test_a_study_keeps_its_counts_and_intervals_together(name: str) -> None:
    found = study(name)
    good = found["good"]
    hits, lower, upper = good["rejected"]
    wanted = proportion(hits, good["units"])
    assert (lower, upper) == pytest.approx((wanted.lower_ratio, wanted.upper_ratio), rel=0.01)
    for line in found["faults"].values():
        assert line["found"][0] + line["void"] <= line["units"]
    for line in found["station"].values():
        ended = line["blamed"][0] + line["void"] + line["refused"] + line["pass"]
        assert ended == line["units"]
    together = found["station_together"]
    assert together["units"] == sum(line["units"] for line in found["station"].values())


@pytest.mark.parametrize("name", NAMES)
def test_every_fault_of_a_study_can_be_studied_again(name: str) -> None:
    found = study(name)
    ladders = ladders_for(found["model"], [*found["faults"], *found["station"]])
    assert len(ladders) == len(found["faults"]) + len(found["station"])


def test_studies_stand_where_no_limit_file_is_looked_for() -> None:
    assert study_path(Path("limits/tarn2.toml")) == Path("limits/tarn2.study.json")
