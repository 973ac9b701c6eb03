"""The curve with its tolerance band as a widget: only colours and a heading on plot_rows."""

from __future__ import annotations

from collections.abc import Mapping

from rich.segment import Segment
from rich.style import Style
from textual.app import RenderResult
from textual.strip import Strip
from textual.widget import Widget

from station.judging.verdict import AppliedBand
from station.screens import palette, wording
from station.screens.curveplot import Ink, PlotMode, Row, plot_rows

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


class CurvePlot(Widget):
    """Shows one curve, or that there is none."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's own name
        super().__init__(id=id)
        self._title = ""
        self._band: AppliedBand | None = None
        self._mode = PlotMode.BLOCKS  # braille is missing in some fonts
        self._rows: list[Row] = []

    def show(self, title: str, band: AppliedBand | None) -> None:
        """Put up another curve, or none."""
        self._title, self._band = title, band
        self._draw()

    def toggle_mode(self) -> None:
        """Draw with braille instead of blocks, or back."""
        blocks = self._mode is PlotMode.BLOCKS
        self._mode = PlotMode.BRAILLE if blocks else PlotMode.BLOCKS
        self._draw()

    def on_resize(self) -> None:
        """Draw for the new room."""
        self._draw()

    def render(self) -> RenderResult:
        """Return nothing: the plot draws itself line by line."""
        return ""

    def render_line(self, y: int) -> Strip:
        """Return one line: the heading, then the plot."""
        width = self.size.width
        if y == 0:
            return Strip([Segment(self._heading(), HEADING)]).adjust_cell_length(width, HEADING)
        if y > len(self._rows):
            return Strip.blank(width, STYLES[Ink.EMPTY, False])
        spans = self._rows[y - 1]
        return Strip([Segment(span.text, STYLES[span.ink, span.in_band]) for span in spans], width)

    def _heading(self) -> str:
        if self._band is None:
            return self._title
        guarded = self._band.guard is not None and bool(self._band.guard.any())
        return f"{self._title}   {wording.PLOT_LEGEND}{wording.PLOT_TOLERANCE if guarded else ''}"

    def _draw(self) -> None:
        width, height = self.size.width, self.size.height - 1
        band = self._band
        self._rows = [] if band is None else plot_rows(band, width, height, self._mode)
        self.refresh()
