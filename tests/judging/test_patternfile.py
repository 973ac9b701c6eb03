"""A pattern file is the one that was meant, or the limit file is refused."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from station.analysis.signals.bands import band_centres
from station.analysis.statistics.population import PatternModel, pattern_model
from station.errors import RefusedInputError, TextFileError
from station.judging.files.limit_file import limit_file, limit_file_from_text
from station.judging.files.patternfile import Pattern, pattern_of, pattern_text, write_pattern
from station.judging.files.planning import plan_of
from station.judging.files.shelf import limit_shelf
from tests.judging.example import LIMITS

NAME = "tarn2.pattern.json"


def model(from_hz: float = 100.0) -> PatternModel:
    hz = band_centres(from_hz, 10e3, 3)
    curves = np.random.default_rng(1).normal(86.0, 0.3, (60, hz.size))
    return pattern_model(hz, curves, tuple(f"u{n}" for n in range(60)), 0.4)


def text_with(sha256: str, curve: str = "response", name: str = NAME) -> str:
    table = f'\n[readings.pattern]\nfile = "{name}"\nsha256 = "{sha256}"\ncurve = "{curve}"\n'
    limit = '\n[[numbers]]\nreading = "pattern.rest"\nupper = 2.0\nscale = 0.3\n'
    return LIMITS + table + limit


def written(folder: Path, pattern: Pattern | None = None, curve: str = "response") -> Path:
    """Write a limit file with its pattern file and return the limit file."""
    sha256 = write_pattern(folder / NAME, pattern or Pattern("response", model()))
    path = folder / "tarn2.toml"
    path.write_text(text_with(sha256, curve))
    return path


def only_fault(path: Path) -> str:
    with pytest.raises(TextFileError) as refusal:
        limit_file(path)
    (fault,) = refusal.value.faults
    return fault


def test_a_pattern_is_read_back_bit_for_bit(tmp_path: Path) -> None:
    before = model()
    write_pattern(tmp_path / NAME, Pattern("response", before))
    after = pattern_of((tmp_path / NAME).read_text(encoding="utf-8"))
    assert after.curve == "response"
    for name in ("frequency_hz", "mean", "modes", "mode_spread", "rest_spread", "rest_traces"):
        np.testing.assert_array_equal(getattr(after.model, name), getattr(before, name))
    assert pattern_text(after) == pattern_text(Pattern("response", before))


def test_the_plan_compares_with_the_population_beside_the_limit_file(tmp_path: Path) -> None:
    limits, _ = limit_file(written(tmp_path))
    pattern = plan_of(limits).pattern
    assert pattern is not None
    assert pattern.curve == "response"
    assert pattern.model.member_ids == model().member_ids
    assert limit_shelf(tmp_path).files[0].limits.learned is not None


def test_a_pattern_file_that_changed_is_refused_at_its_line(tmp_path: Path) -> None:
    path = written(tmp_path)
    line = path.read_text().split("\n").index(f'file = "{NAME}"') + 1
    (tmp_path / NAME).write_text((tmp_path / NAME).read_text() + " ")
    fault = only_fault(path)
    assert fault.startswith(f"{path}:{line}: readings.pattern.file: ")
    assert "is not the file that was meant" in fault


def test_a_pattern_file_that_is_gone_is_told(tmp_path: Path) -> None:
    path = written(tmp_path)
    (tmp_path / NAME).unlink()
    assert "No such file" in only_fault(path)


def test_faults_of_the_pattern_come_with_all_others(tmp_path: Path) -> None:
    path = written(tmp_path)
    path.write_text(path.read_text().replace("void = 2", "void = -2"))
    (tmp_path / NAME).unlink()
    with pytest.raises(TextFileError) as refusal:
        limit_file(path)
    assert len(refusal.value.faults) == 2


@pytest.mark.parametrize(
    ("curve", "pattern", "words"),
    [
        ("thd", Pattern("thd", model()), "there is no curve 'thd'"),
        ("response", Pattern("thd", model()), "was learned from 'thd'"),
        ("response", Pattern("response", model(200.0)), "on other frequencies"),
    ],
)
def test_a_pattern_of_something_else_is_refused(
    tmp_path: Path, curve: str, pattern: Pattern, words: str
) -> None:
    assert words in only_fault(written(tmp_path, pattern, curve))


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ('"format":1', '"format":2', "format 1"),
        ('"curve":"response",', "", "does not name its curve"),
        ('"explained_ratio":0.4', '"explained_ratio":NaN', "holds NaN"),
        ('"mode_spread":[', '"mode_spread":["x",', "is no pattern"),
        ('"mean":[', '"mean":[86.0,', "is no pattern"),
        ("{", "", "is no JSON"),
    ],
)
def test_a_file_that_is_no_pattern_is_told(before: str, after: str, words: str) -> None:
    text = pattern_text(Pattern("response", model()))
    assert before in text
    with pytest.raises(ValueError, match=words):
        pattern_of(text.replace(before, after, 1))


def test_no_list_is_a_pattern() -> None:
    with pytest.raises(ValueError, match="format 1"):
        pattern_of(json.dumps([1, 2]))


def test_a_text_that_stands_alone_cannot_name_a_pattern() -> None:
    with pytest.raises(TextFileError, match="stands in no folder"):
        limit_file_from_text(text_with("0" * 64), "x.toml")


@pytest.mark.parametrize("name", ["../x.json", "/etc/x.json", ".hidden"])
def test_a_pattern_file_lies_beside_its_limit_file(tmp_path: Path, name: str) -> None:
    path = tmp_path / "x.toml"
    path.write_text(text_with("0" * 64, name=name))
    assert "readings.pattern.file" in only_fault(path)


def test_limits_without_their_pattern_are_no_plan(tmp_path: Path) -> None:
    limits, _ = limit_file(written(tmp_path))
    with pytest.raises(RefusedInputError, match="was not read"):
        plan_of(limits.model_copy(update={"learned": None}))


def test_no_table_can_stand_for_the_pattern() -> None:
    with pytest.raises(TextFileError, match="learned"):
        limit_file_from_text(LIMITS + "\n[learned]\nmean = [1.0]\n", "x.toml")
