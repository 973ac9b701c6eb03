"""The line on top of the screens of a gauge study."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.widgets import Static

from station.screens.gauge import gaugescreenwords


class GaugeTitle(Horizontal):
    """What is shown, and whether it is simulated."""

    def __init__(self, words: str, *, simulated: bool) -> None:
        super().__init__(classes="title")
        self._words, self._simulated = words, simulated

    def compose(self) -> ComposeResult:
        """Lay out the line."""
        yield Static(self._words, classes="name", markup=False)
        if self._simulated:
            yield Static(gaugescreenwords.SIMULATED, classes="simulated", markup=False)
