"""The block font spells what the screens say."""

from __future__ import annotations

import string

import numpy as np
import pytest

from station.screens.line.bigletters import (
    GLYPHS,
    can_spell,
    drawn_glyphs,
    letter_rows,
    with_sign,
    word_pixels,
)
from station.screens.shared.wording import BIG_WORDS


def test_every_letter_and_digit_is_drawn_and_no_two_look_alike() -> None:
    characters = string.ascii_uppercase + string.digits
    assert can_spell(characters)
    drawn = {
        GLYPHS[character].tobytes() + bytes(GLYPHS[character].shape) for character in characters
    }
    assert len(drawn) == len(characters)


def test_every_big_word_can_be_spelled() -> None:
    assert all(can_spell(word) for word in BIG_WORDS.values())


def test_letters_stand_a_pixel_apart() -> None:
    # I is three pixels wide and drawn as a serif bar over a stem
    assert letter_rows(word_pixels("II"), cells_wide=1, rows_high=1) == (
        "███ ███",
        " █   █ ",
        " █   █ ",
        " █   █ ",
        " █   █ ",
        " █   █ ",
        "███ ███",
    )


def test_pixels_grow_in_both_directions() -> None:
    small = letter_rows(word_pixels("L"), cells_wide=1, rows_high=1)
    large = letter_rows(word_pixels("L"), cells_wide=3, rows_high=2)
    assert len(large) == 14
    assert large[0] == "███" + " " * 12
    assert large[-1] == large[-2] == "█" * 15
    assert sum(row.count("█") for row in large) == 6 * sum(row.count("█") for row in small)


def test_a_space_separates_words_and_nothing_is_nothing() -> None:
    assert word_pixels("A B").shape[1] > word_pixels("AB").shape[1]
    assert word_pixels("").shape == (7, 0)


def test_a_sign_stands_before_the_word() -> None:
    pixels = with_sign("tick", "PASS")
    np.testing.assert_array_equal(pixels[:, :9], GLYPHS["tick"])
    np.testing.assert_array_equal(pixels[:, 12:], word_pixels("PASS"))


def test_a_character_without_a_glyph_is_refused() -> None:
    assert not can_spell("pass")
    with pytest.raises(ValueError, match="cannot spell"):
        word_pixels("ÄB")


def test_a_glyph_with_a_missing_pixel_is_refused() -> None:
    with pytest.raises(ValueError, match="seven lines"):
        drawn_glyphs("A\n" + "#\n" * 6)
    with pytest.raises(ValueError, match="inhomogeneous"):
        drawn_glyphs("A\n##\n" + "#\n" * 6)
