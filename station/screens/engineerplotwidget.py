"""Many units under one limit as a widget: only colours and a heading on engineerplot's rows."""

from __future__ import annotations

from rich.segment import Segment
from textual.app import RenderResult
from textual.strip import Strip
from textual.widget import Widget

from station.screens.curveplot import Ink, Row
from station.screens.curvewidget import HEADING, STYLES
from station.screens.engineerplot import (
    CurvesPicture,
    NumbersPicture,
    curves_rows,
    numbers_rows,
)

CURVES_LEGEND = "▀ median  ░ 98 % of units  ▲▼ failing  ─ limit  ◆ chosen"
NUMBERS_LEGEND = "█ units  │ limit  ┃ chosen"


class ManyUnitsPlot(Widget):
    """Shows the curves or the numbers of many units, or that there are none."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's own name
        super().__init__(id=id)
        self._picture: CurvesPicture | NumbersPicture | None = None
        self._rows: list[Row] = []

    def show(self, picture: CurvesPicture | NumbersPicture | None) -> None:
        """Put up another picture, or none."""
        self._picture = picture
        self._draw()

    def on_resize(self) -> None:
        """Draw for the new room."""
        self._draw()

    def render(self) -> RenderResult:
        """Return nothing: the plot draws itself line by line."""
        return ""

    def render_line(self, y: int) -> Strip:
        """Return one line: the legend, then the plot."""
        width = self.size.width
        if y == 0:
            return Strip([Segment(self._legend(), HEADING)]).adjust_cell_length(width, HEADING)
        if y > len(self._rows):
            return Strip.blank(width, STYLES[Ink.EMPTY, False])
        spans = self._rows[y - 1]
        return Strip([Segment(span.text, STYLES[span.ink, span.in_band]) for span in spans], width)

    def _legend(self) -> str:
        if self._picture is None:
            return "No unit has this reading."
        return CURVES_LEGEND if isinstance(self._picture, CurvesPicture) else NUMBERS_LEGEND

    def _draw(self) -> None:
        width, height = self.size.width, self.size.height - 1
        if isinstance(self._picture, CurvesPicture):
            self._rows = curves_rows(self._picture, width, height)
        elif isinstance(self._picture, NumbersPicture):
            self._rows = numbers_rows(self._picture, width, height)
        else:
            self._rows = []
        self.refresh()
