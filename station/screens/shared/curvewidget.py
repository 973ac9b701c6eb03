"""The curve with its tolerance band as a widget: only a heading on plot_rows."""

from __future__ import annotations

from station.judging.verdicts.verdict import AppliedBand
from station.screens.shared import wording
from station.screens.shared.curveplot import PlotMode, Row, plot_rows
from station.screens.shared.plotwidget import PlotWidget


class CurvePlot(PlotWidget):
    """Shows one curve, or that there is none."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - Textual's own name
        super().__init__(id=id)
        self._title = ""
        self._band: AppliedBand | None = None
        self._mode = PlotMode.BLOCKS  # braille is missing in some fonts

    def show(self, title: str, band: AppliedBand | None) -> None:
        """Put up another curve, or none."""
        self._title, self._band = title, band
        self.draw()

    def toggle_mode(self) -> None:
        """Draw with braille instead of blocks, or back."""
        blocks = self._mode is PlotMode.BLOCKS
        self._mode = PlotMode.BRAILLE if blocks else PlotMode.BLOCKS
        self.draw()

    def heading(self) -> str:
        """Return the title, and what the marks mean where there is a curve."""
        if self._band is None:
            return self._title
        guarded = self._band.guard is not None and bool(self._band.guard.any())
        return f"{self._title}   {wording.PLOT_LEGEND}{wording.PLOT_TOLERANCE if guarded else ''}"

    def drawn(self, width: int, height: int) -> list[Row]:
        """Return the curve's rows."""
        return [] if self._band is None else plot_rows(self._band, width, height, self._mode)
