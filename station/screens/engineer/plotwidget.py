"""Many units under one limit as a widget: only a heading on engineerplot's rows."""

from __future__ import annotations

from station.screens.engineer.plot import (
    CurvesPicture,
    NumbersPicture,
    curves_rows,
    numbers_rows,
)
from station.screens.shared.curveplot import Row
from station.screens.shared.plotwidget import PlotWidget

CURVES_LEGEND = "▀ median  ░ 98 % of units  ▲▼ failing  ─ limit  ◆ chosen"
NUMBERS_LEGEND = "█ units  │ limit  ┃ chosen"


class ManyUnitsPlot(PlotWidget):
    """Shows the curves or the numbers of many units, or that there are none."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's own name
        super().__init__(id=id)
        self._picture: CurvesPicture | NumbersPicture | None = None

    def show(self, picture: CurvesPicture | NumbersPicture | None) -> None:
        """Put up another picture, or none."""
        self._picture = picture
        self.draw()

    def heading(self) -> str:
        """Return what the marks mean."""
        if self._picture is None:
            return "No unit has this reading."
        return CURVES_LEGEND if isinstance(self._picture, CurvesPicture) else NUMBERS_LEGEND

    def drawn(self, width: int, height: int) -> list[Row]:
        """Return the picture's rows."""
        if isinstance(self._picture, CurvesPicture):
            return curves_rows(self._picture, width, height)
        if isinstance(self._picture, NumbersPicture):
            return numbers_rows(self._picture, width, height)
        return []
