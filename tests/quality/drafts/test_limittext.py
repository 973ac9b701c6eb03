"""Changing a limit file's text changes what was asked, and not one byte besides."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.errors import RefusedInputError
from station.judging.files.limit_file import limit_file_from_text
from station.quality.drafts.text import (
    Change,
    Changes,
    changed_text,
    number_toml,
    parts_of,
    points_toml,
    text_toml,
)
from tests.judging.example import LIMITS

FOLDER = Path(__file__).parents[3] / "limits"
COMMENTED = LIMITS.replace(
    "[[numbers]]", "# how the first came about\n# in two lines\n[[numbers]]", 1
).replace("points = [\n", "points = [ # by hand [see below\n")


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.toml")), ids=lambda path: path.stem)
def test_a_text_taken_apart_is_the_same_text_put_together(path: Path) -> None:
    text = path.read_text()
    assert changed_text(text, Changes()) == text


def test_a_band_and_a_number_are_changed_and_nothing_else() -> None:
    points = points_toml([(100.0, 79.5, 90.0), (1e4, 79.0, 91.25)])
    changes = Changes(
        entries={
            ("bands", 0): Change({"points": points}),
            ("numbers", 0): Change({"lower": "85.25"}, ("# learned",)),
            ("numbers", 1): Change({"upper": number_toml(1.5)}),
        }
    )
    text = changed_text(COMMENTED, changes)
    limits = limit_file_from_text(text, "x.toml")
    before = limit_file_from_text(COMMENTED, "x.toml")
    assert limits.bands[0].points == ((100.0, 79.5, 90.0), (1e4, 79.0, 91.25))
    assert (limits.numbers[0].lower, limits.numbers[0].upper) == (85.25, 87.0)
    assert (limits.numbers[1].lower, limits.numbers[1].upper) == (0.7, 1.5)
    assert limits.advice == before.advice
    assert limits.model == before.model
    assert "# learned\n[[numbers]]" in text
    assert "how the first came about" not in text
    kept = set(COMMENTED.splitlines()) - set(text.splitlines())
    assert kept == {
        "points = [ # by hand [see below", "    [100.0, 80.0, 90.0],", "    [1000.0, 84.0, 88.0],",
        "    [10000.0, 80.0, 90.0],", "lower = 85.0", "# how the first came about",
        "# in two lines",
    }  # fmt: skip


def test_a_table_is_changed_by_name_and_another_added() -> None:
    changes = Changes(
        tables={"model": Change({"revision": text_toml('B "2"'), "day": "2026-12-01"})},
        added=('[[numbers]]\nreading = "level.woofer"\nupper = 1.0\nscale = 1.0\n',),
    )
    limits = limit_file_from_text(changed_text(COMMENTED, changes), "x.toml")
    assert limits.model.revision == 'B "2"'
    assert limits.model.day.isoformat() == "2026-12-01"
    assert limits.numbers[-1].reading == "level.woofer"


def test_what_is_not_there_cannot_be_changed() -> None:
    with pytest.raises(RefusedInputError, match="bands"):
        changed_text(LIMITS, Changes(entries={("bands", 7): Change({})}))


def test_parts_know_their_comments() -> None:
    (first, *_) = [part for part in parts_of(COMMENTED) if part.name == "numbers"]
    assert first.above == ("# how the first came about", "# in two lines")


@given(words=st.text(min_size=1))
def test_any_words_come_back(words: str) -> None:
    words = "".join(c for c in words if ord(c) < 0xD800)
    assert tomllib.loads(f"x = {text_toml(words)}")["x"] == words


@given(value=st.floats(-1e300, 1e300))
def test_numbers_come_back_to_ten_digits(value: float) -> None:
    assert tomllib.loads(f"x = {number_toml(value)}")["x"] == pytest.approx(value, rel=1e-9)
