from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tomlkit import dumps

from station.tomlfiles.lines import Place, line_of, lines_of_toml

TEXT = '''# a comment
top = 1
[table.sub]
array = [1, # with a comment ]
 2, [3,
 4]]
"quoted key" = "a # b ] }"
[[many]]
first = """
two lines"""
[[many]]
inline = {x = 1, y = [5,
6]}
[many.child]
z = 2026-11-25
'''


@pytest.mark.parametrize(
    ("place", "line"),
    [
        (("top",), 2),
        (("table", "sub"), 3),
        (("table", "sub", "array", 0), 4),
        (("table", "sub", "array", 1), 5),
        (("table", "sub", "array", 2, 1), 6),
        (("table", "sub", "quoted key"), 7),
        (("many", 0, "first"), 9),
        (("many", 1), 11),
        (("many", 1, "inline", "y", 1), 13),
        (("many", 1, "child", "z"), 15),
    ],
)
def test_each_place_stands_at_its_line(place: Place, line: int) -> None:
    assert lines_of_toml(TEXT)[place] == line


def test_a_missing_key_is_told_at_the_table_that_lacks_it() -> None:
    assert line_of(lines_of_toml(TEXT), ("many", 1, "absent")) == 11
    assert line_of(lines_of_toml(TEXT), ("nowhere",)) == 1


keys = st.text("abcdefgh_-", min_size=1, max_size=4)
leaves = st.one_of(st.integers(-9, 9), st.booleans(), st.text("ab#[]{}=,\"'\\\n ", max_size=8))
trees = st.recursive(
    leaves,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(keys, inner, max_size=3)),
    max_leaves=12,
)


def places_in(contents: Any, place: Place = ()) -> list[Place]:
    pairs: list[tuple[int | str, Any]] = []
    if isinstance(contents, dict):
        pairs = list(contents.items())
    elif isinstance(contents, list):
        pairs = list(enumerate(contents))
    found = [(*place, key) for key, _ in pairs]
    for key, value in pairs:
        found += places_in(value, (*place, key))
    return found


@given(st.dictionaries(keys, trees, max_size=4))
def test_every_place_of_any_file_is_found(contents: dict[str, Any]) -> None:
    text = dumps(contents)
    lines = lines_of_toml(text)
    for place in places_in(tomllib.loads(text)):
        assert 1 <= lines[place] <= text.count("\n") + 1
