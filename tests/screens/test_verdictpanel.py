"""The big word fits its room, whatever the room and the word."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.screens.line.outcome import Kind
from station.screens.line.verdictpanel import panel_rows
from station.screens.shared.wording import BIG_WORDS


@given(
    st.sampled_from(Kind),
    st.one_of(st.sampled_from(list(BIG_WORDS.values())), st.text("AÄ ÉB", max_size=30)),
    st.integers(min_value=0, max_value=240),
    st.integers(min_value=0, max_value=60),
)
def test_the_panel_fills_its_room_exactly(kind: Kind, word: str, width: int, height: int) -> None:
    rows = panel_rows(kind, word, width, height)
    assert [len(row) for row in rows] == [width] * height


@pytest.mark.parametrize("kind", Kind)
@pytest.mark.parametrize(("width", "height"), [(80, 9), (120, 9), (200, 18)])
def test_letters_are_at_least_seven_rows_high(kind: Kind, width: int, height: int) -> None:
    # ISO 9241-303 recommends 20 to 22 minutes of arc (from memory): 19 mm at 3 m. Seven rows of
    # 4.5 mm, small for a terminal on a 24 inch display, make 31 mm.
    rows = panel_rows(kind, BIG_WORDS[kind], width, height)
    assert sum("█" in row for row in rows) >= 7


@pytest.mark.parametrize("kind", [Kind.PASS, Kind.FAIL, Kind.VOID, Kind.SERIAL, Kind.STOP])
def test_the_sign_stands_beside_the_word_at_80_columns(kind: Kind) -> None:
    with_sign = panel_rows(kind, BIG_WORDS[kind], 80, 9)
    without = panel_rows(kind, BIG_WORDS[kind], 50, 9)
    assert sum(row.count("█") for row in with_sign) > sum(row.count("█") for row in without)


def test_a_larger_room_gives_larger_letters() -> None:
    small = panel_rows(Kind.PASS, "PASS", 80, 9)
    large = panel_rows(Kind.PASS, "PASS", 200, 18)
    assert sum(row.count("█") for row in large) > 3 * sum(row.count("█") for row in small)


def test_a_word_the_font_lacks_is_written_plainly() -> None:
    rows = panel_rows(Kind.FAIL, "ÉCHEC", 80, 9)
    assert sum("ÉCHEC" in row for row in rows) == 1


def test_a_narrow_room_still_says_the_word() -> None:
    assert any("STATION" in row for row in panel_rows(Kind.STATION, "STATION", 30, 9))
    assert any("PASS" in row for row in panel_rows(Kind.PASS, "PASS", 20, 5))
