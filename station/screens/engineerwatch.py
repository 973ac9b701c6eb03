"""The view of what has moved: the alarm in words, and one reading's chart after the other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Static

from station.errors import StationError
from station.quality.statistics.charts import Chart
from station.quality.watching.leftout import left_out_sentence
from station.quality.watching.numbers import Charts
from station.quality.watching.watched import Watched
from station.quality.watching.words import alarm_sentences
from station.screens import engineerwording
from station.screens.engineerdesk import Desk, Workshop
from station.screens.engineertitle import TitleLine, title_of
from station.screens.watchplot import chart_lines

KINDS = ("single units", "means", "ranges", "weighted means")


class WatchScreen(Screen[None]):
    """Shows alarms and charts of the model on the desk; changes nothing."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("n", "turn(1)", "Next reading"),
        Binding("p", "turn(-1)", "Reading before"),
        Binding("k", "kind", "Another kind of chart"),
    ]

    @dataclass
    class Looked(Message):
        """The production is there, or why not."""

        found: Watched | StationError

    def __init__(self, desk: Desk, workshop: Workshop, views: str) -> None:
        super().__init__()
        self._desk = desk
        self._workshop = workshop
        self._views = views
        self._watched: Watched | None = None
        self._place, self._kind = 0, len(KINDS) - 1

    def compose(self) -> ComposeResult:
        """Lay out the view."""
        yield TitleLine(title_of(self._desk.draft), self._views, simulated=self._workshop.simulated)
        yield Static("", id="said", markup=False)
        yield Static("", id="chart-title", classes="line strong", markup=False)
        yield Static("", id="chart", markup=False)
        yield Static(engineerwording.WATCH_KEYS, classes="keys", markup=False)

    def on_screen_resume(self) -> None:
        """Look at the log anew: units arrive while it is open."""
        if self._watched is None:
            self.query_one("#said", Static).update(engineerwording.READING_LOG)
        self.look()

    @work(thread=True, exclusive=True, exit_on_error=False)
    def look(self) -> None:
        """Read the production, and post what comes of it."""
        try:
            found: Watched | StationError = self._workshop.watched(self._desk.draft)
        except StationError as error:
            found = error
        self.post_message(self.Looked(found))

    @on(Looked)
    def show(self, event: Looked) -> None:
        """Say what has moved, and draw a chart."""
        said = self.query_one("#said", Static)
        if isinstance(event.found, StationError):
            self._watched = None
            said.update(f"{event.found.happened} {event.found.remedy}")
            return
        self._watched = event.found
        self._place = min(self._place, max(0, len(event.found.charts) - 1))
        sentences = (*alarm_sentences(event.found), left_out_sentence(event.found.left_out))
        said.update("\n".join(one for one in sentences if one))
        self.call_after_refresh(self._draw)

    def on_resize(self) -> None:
        """Draw for the new room."""
        self.call_after_refresh(self._draw)

    def action_turn(self, by: int) -> None:
        """Show another reading."""
        if self._watched is not None and self._watched.charts:
            self._place = (self._place + by) % len(self._watched.charts)
            self._draw()

    def action_kind(self) -> None:
        """Show another kind of chart."""
        self._kind = (self._kind + 1) % len(KINDS)
        self._draw()

    def _draw(self) -> None:
        if self._watched is None or not self._watched.charts:
            return
        charts = self._watched.charts[self._place]
        title = engineerwording.chart_line(
            charts.series.reading, charts.series.unit, KINDS[self._kind], self._place,
            len(self._watched.charts),
        )  # fmt: skip
        self.query_one("#chart-title", Static).update(title)
        room = self.query_one("#chart", Static)
        chart, baseline = chosen(charts, self._kind)
        lines = chart_lines(chart, room.size.width, room.size.height, baseline)
        room.update("\n".join(lines))


def chosen(charts: Charts, kind: int) -> tuple[Chart, int]:
    """Return one of a reading's charts, and how many of its points are the baseline."""
    every = (charts.individuals, charts.means, charts.ranges, charts.weighted)
    return every[kind], charts.baseline if kind == 0 else charts.baseline // charts.size
