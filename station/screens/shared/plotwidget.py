"""What every plot on a screen does: a heading, then rows of inked text, drawn for the room."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping

from rich.segment import Segment
from rich.style import Style
from textual.app import RenderResult
from textual.strip import Strip
from textual.widget import Widget

from station.screens.shared import palette
from station.screens.shared.curveplot import Ink, Row

INK_COLOURS: Mapping[Ink, str] = {
    Ink.EMPTY: palette.TEXT,
    Ink.AXIS: palette.MUTED,
    Ink.GRID: palette.PLOT_GRID,
    Ink.LIMIT: palette.PLOT_LIMIT,
    Ink.CURVE: palette.PLOT_CURVE,
    Ink.OUTSIDE: palette.PLOT_OUTSIDE,
}
STYLES: Mapping[tuple[Ink, bool], Style] = {
    (ink, in_band): Style(color=colour, bgcolor=palette.PLOT_BAND if in_band else palette.GROUND)
    for ink, colour in INK_COLOURS.items()
    for in_band in (False, True)
}
HEADING = Style(color=palette.TEXT, bgcolor=palette.GROUND, bold=True)


class PlotWidget(Widget):
    """Shows rows that its kind draws anew whenever the room or the picture changes."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's own name
        super().__init__(id=id)
        self._rows: list[Row] = []

    @abstractmethod
    def heading(self) -> str:
        """Return the line above the plot."""

    @abstractmethod
    def drawn(self, width: int, height: int) -> list[Row]:
        """Return the plot's rows for this room."""

    def draw(self) -> None:
        """Draw anew."""
        self._rows = self.drawn(self.size.width, self.size.height - 1)
        self.refresh()

    def on_resize(self) -> None:
        """Draw for the new room."""
        self.draw()

    def render(self) -> RenderResult:
        """Return nothing: the plot draws itself line by line."""
        return ""

    def render_line(self, y: int) -> Strip:
        """Return one line: the heading, then the plot."""
        width = self.size.width
        if y == 0:
            return Strip([Segment(self.heading(), HEADING)]).adjust_cell_length(width, HEADING)
        if y > len(self._rows):
            return Strip.blank(width, STYLES[Ink.EMPTY, False])
        spans = self._rows[y - 1]
        return Strip([Segment(span.text, STYLES[span.ink, span.in_band]) for span in spans], width)
