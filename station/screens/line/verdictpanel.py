"""The big word: readable from three metres, told apart by word, sign, frame and colour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rich.segment import Segment
from rich.style import Style
from textual.app import RenderResult
from textual.strip import Strip
from textual.widget import Widget
from textual.widgets import Static

from station.screens.line.bigletters import (
    HEIGHT_PIXELS,
    PixelArray,
    can_spell,
    letter_rows,
    with_sign,
    word_pixels,
)
from station.screens.line.outcome import READY, Kind, Outcome
from station.screens.shared import palette

WIDEST_PIXEL_CELLS = 3  # for each row of height; a cell is about twice as high as wide
SQUARE_PIXEL_CELLS = 2


@dataclass(frozen=True, slots=True)
class Frame:
    """The characters of an edge: corners from upper left clockwise, then across and upright."""

    corners: tuple[str, str, str, str]
    across: str
    upright: str


@dataclass(frozen=True, slots=True)
class Look:
    """How one kind of answer looks."""

    sign: str
    frame: Frame
    ink: str
    ground: str


ROUND = Frame(("╭", "╮", "╯", "╰"), "─", "│")
CHECKED = Frame(("▞", "▚", "▞", "▚"), "▞", "▞")
DASHED = Frame(("┏", "┓", "┛", "┗"), "╍", "╏")
DOUBLE = Frame(("╔", "╗", "╝", "╚"), "═", "║")
PLAIN = Frame((" ", " ", " ", " "), " ", " ")

LOOKS: Mapping[Kind, Look] = {
    Kind.PASS: Look("tick", ROUND, palette.PASS_INK, palette.PASS_GROUND),
    Kind.FAIL: Look("cross", CHECKED, palette.DARK_INK, palette.FAIL_GROUND),
    Kind.VOID: Look("repeat", DASHED, palette.DARK_INK, palette.VOID_GROUND),
    Kind.STATION: Look("warning", DOUBLE, palette.DARK_INK, palette.STATION_GROUND),
    Kind.SERIAL: Look("label", DOUBLE, palette.DARK_INK, palette.STATION_GROUND),
    Kind.STOP: Look("hand", DOUBLE, palette.DARK_INK, palette.STATION_GROUND),
    Kind.BADGE: Look("label", DOUBLE, palette.DARK_INK, palette.STATION_GROUND),
    Kind.TRIAL: Look("glass", DASHED, palette.DARK_INK, palette.STATION_GROUND),
    Kind.SCAN: Look("label", PLAIN, palette.MUTED, palette.PANEL),
    Kind.START: Look("hand", PLAIN, palette.TEXT, palette.PANEL),
    Kind.WAIT: Look("glass", PLAIN, palette.TEXT, palette.PANEL),
}


def panel_rows(kind: Kind, word: str, width: int, height: int) -> tuple[str, ...]:
    """Return the panel as `height` rows of exactly `width` characters.

    The word takes the largest pixels that fit, with its sign if there is room; a word the font
    cannot spell, or too long for the width, stands as plain text.
    """
    look = LOOKS[kind]
    if width < 3 or height < 3:
        return (" " * width,) * height
    inner = fitted(look.sign, word, width - 2, height - 2)
    left_over = height - 2 - len(inner)
    blank = " " * (width - 2)
    lines = [blank] * (left_over // 2) + [line.center(width - 2) for line in inner]
    lines += [blank] * (height - 2 - len(lines))
    upper_left, upper_right, lower_right, lower_left = look.frame.corners
    across, upright = look.frame.across * (width - 2), look.frame.upright
    return (
        f"{upper_left}{across}{upper_right}",
        *(f"{upright}{line}{upright}" for line in lines),
        f"{lower_left}{across}{lower_right}",
    )


def fitted(sign: str, word: str, width: int, height: int) -> tuple[str, ...]:
    """Return the word as large as it fits into a width and height, or as plain text."""
    rows_high = height // HEIGHT_PIXELS
    if not can_spell(word) or rows_high < 1:
        return (word[:width],)
    for pixels, least_cells in (
        (with_sign(sign, word), SQUARE_PIXEL_CELLS),
        (word_pixels(word), 1),
    ):
        cells_wide = widest(pixels, width, rows_high)
        if cells_wide >= least_cells:
            return letter_rows(pixels, cells_wide=cells_wide, rows_high=rows_high)
    return (word[:width],)


def widest(pixels: PixelArray, width: int, rows_high: int) -> int:
    """Return how many cells wide a pixel may be, not wider than looks right for its height."""
    return min(width // max(1, int(pixels.shape[1])), WIDEST_PIXEL_CELLS * rows_high)


class VerdictPanel(Widget):
    """Shows one outcome's word."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's own name
        super().__init__(id=id)
        self.outcome = READY
        self._rows: tuple[str, ...] = ()

    def show(self, outcome: Outcome) -> None:
        """Put up another word."""
        self.outcome = outcome
        self._draw()

    def on_resize(self) -> None:
        """Draw for the new room."""
        self._draw()

    def render(self) -> RenderResult:
        """Return nothing: the panel draws itself line by line."""
        return ""

    def render_line(self, y: int) -> Strip:
        """Return one line of the panel."""
        look = LOOKS[self.outcome.kind]
        style = Style(color=look.ink, bgcolor=look.ground, bold=True)
        if y >= len(self._rows):
            return Strip.blank(self.size.width, style)
        return Strip([Segment(self._rows[y], style)], self.size.width)

    def _draw(self) -> None:
        outcome = self.outcome
        self._rows = panel_rows(outcome.kind, outcome.word, self.size.width, self.size.height)
        self.refresh()


class SuspectLine(Static):
    """Who is suspected of a fail; where nobody is, its row is the curve's."""

    def show(self, line: str) -> None:
        """Show a line, or nothing."""
        self.update(line)
        self.display = bool(line)
