"""The line on top of every view of the engineer's program."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.widgets import Static

from station.quality.whatif.draft import Draft
from station.screens.engineer import engineerwording


class TitleLine(Horizontal):
    """Model, units and period, whether they are simulated, and the keys of the views."""

    def __init__(self, words: str, views: str, *, simulated: bool) -> None:
        super().__init__(classes="title")
        self._words, self._keys, self._simulated = words, views, simulated

    def compose(self) -> ComposeResult:
        """Lay out the line."""
        yield Static(self._words, classes="name", markup=False)
        if self._simulated:
            yield Static(engineerwording.SIMULATED, classes="simulated", markup=False)
        yield Static(self._keys, classes="views", markup=False)


def title_of(draft: Draft) -> str:
    """Return what is on the desk."""
    runs, model = draft.units.runs, draft.limits.model
    return engineerwording.title_line(
        model.name, model.revision, len(runs), runs[0].started_utc[:10], runs[-1].started_utc[:10]
    )
