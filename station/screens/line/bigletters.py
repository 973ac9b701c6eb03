"""A block font of our own, seven pixels high, and the signs that stand beside a word."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

PixelArray = NDArray[np.bool_]

HEIGHT_PIXELS = 7
GAP_PIXELS = 1
SPACE_PIXELS = 3

# A line of names, then seven lines of pixels: a name stands above its own column of pixels.
DRAWN = """
A     B     C     D     E     F     G     H     I   J     K     L     M
.###. ####. .###. ####. ##### ##### .###. #...# ### ....# #...# #.... #...#
#...# #...# #...# #...# #.... #.... #...# #...# .#. ....# #..#. #.... ##.##
#...# #...# #.... #...# #.... #.... #.... #...# .#. ....# #.#.. #.... #.#.#
##### ####. #.... #...# ####. ####. #.### ##### .#. ....# ##... #.... #.#.#
#...# #...# #.... #...# #.... #.... #...# #...# .#. ....# #.#.. #.... #...#
#...# #...# #...# #...# #.... #.... #...# #...# .#. #...# #..#. #.... #...#
#...# ####. .###. ####. ##### #.... .###. #...# ### .###. #...# ##### #...#

N     O     P     Q     R     S     T     U     V     W     X     Y     Z
#...# .###. ####. .###. ####. .#### ##### #...# #...# #...# #...# #...# #####
##..# #...# #...# #...# #...# #.... ..#.. #...# #...# #...# #...# #...# ....#
##..# #...# #...# #...# #...# #.... ..#.. #...# #...# #...# .#.#. .#.#. ...#.
#.#.# #...# ####. #...# ####. .###. ..#.. #...# #...# #.#.# ..#.. ..#.. ..#..
#..## #...# #.... #.#.# #.#.. ....# ..#.. #...# .#.#. #.#.# .#.#. ..#.. .#...
#..## #...# #.... #..#. #..#. ....# ..#.. #...# .#.#. ##.## #...# ..#.. #....
#...# .###. #.... .##.# #...# ####. ..#.. .###. ..#.. #...# #...# ..#.. #####

0     1   2     3     4     5     6     7     8     9     -    ? !
.###. .#. .###. ####. ...#. ##### .###. ##### .###. .###. .... ####. #
#..## ##. #...# ....# ..##. #.... #.... ....# #...# #...# .... ....# #
#.#.# .#. ....# ....# .#.#. ####. #.... ...#. #...# #...# .... ....# #
#.#.# .#. ...#. .###. #..#. ....# ####. ..#.. .###. .#### #### ..##. #
#.#.# .#. ..#.. ....# ##### ....# #...# .#... #...# ....# .... ..#.. #
##..# .#. .#... ....# ...#. #...# #...# .#... #...# ....# .... ..... .
.###. ### ##### ####. ...#. .###. .###. .#... .###. .###. .... ..#.. #

tick      cross   repeat  warning hand    label     glass
........# ##...## .####.# ...#... ####### #.##.#.## #######
.......## ###.### ##..### ..###.. ##...## #.##.#.## .#...#.
#.....##. .#####. #..#### ..#.#.. #.....# #.##.#.## ..#.#..
##...##.. ..###.. #...... .##.##. #.....# #.##.#.## ...#...
.##.##... .#####. #.....# .##.##. #.....# #.##.#.## ..#.#..
..###.... ###.### ##...## ####### ##...## #.##.#.## .#.#.#.
...#..... ##...## .#####. ###.### ####### #.##.#.## #######
"""


def drawn_glyphs(drawn: str) -> dict[str, PixelArray]:
    """Return the pixels of every glyph of a drawing, by name; ValueError if it is ragged."""
    glyphs: dict[str, PixelArray] = {}
    for block in drawn.strip().split("\n\n"):
        names, *lines = (line.split() for line in block.split("\n"))
        if len(lines) != HEIGHT_PIXELS or {len(line) for line in lines} != {len(names)}:
            raise ValueError(f"the glyphs {' '.join(names)} do not fill their seven lines")
        for name, rows in zip(names, zip(*lines, strict=True), strict=True):
            pixels = np.array([[pixel == "#" for pixel in row] for row in rows])
            pixels.flags.writeable = False
            glyphs[name] = pixels
    return glyphs


GLYPHS = drawn_glyphs(DRAWN)


def can_spell(word: str) -> bool:
    """Return whether the font has every character of a word."""
    return all(character == " " or character in GLYPHS for character in word)


def word_pixels(word: str) -> PixelArray:
    """Return a word's pixels, shape (7, n); ValueError for a character the font lacks."""
    if not can_spell(word):
        raise ValueError(f"the font cannot spell {word!r}")
    gap = np.zeros((HEIGHT_PIXELS, GAP_PIXELS), dtype=np.bool_)
    space = np.zeros((HEIGHT_PIXELS, SPACE_PIXELS), dtype=np.bool_)
    parts: list[PixelArray] = []
    for character in word:
        parts += [gap, space if character == " " else GLYPHS[character]]
    return np.hstack(parts[1:]) if parts else np.zeros((HEIGHT_PIXELS, 0), dtype=np.bool_)


def with_sign(sign: str, word: str) -> PixelArray:
    """Return the pixels of a sign, a gap, and a word."""
    gap = np.zeros((HEIGHT_PIXELS, SPACE_PIXELS), dtype=np.bool_)
    return np.hstack((GLYPHS[sign], gap, word_pixels(word)))


def letter_rows(pixels: PixelArray, *, cells_wide: int, rows_high: int) -> tuple[str, ...]:
    """Return rows of full blocks and spaces, each pixel so many cells wide and rows high."""
    cells = pixels.repeat(cells_wide, axis=1).repeat(rows_high, axis=0)
    return tuple("".join(row) for row in np.where(cells, "█", " "))
