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
from station.quality.watching.curves import CurvePoint, name_at, point_named
from station.quality.watching.leftout import left_out_sentence
from station.quality.watching.numbers import Charts
from station.quality.watching.watched import Watched
from station.quality.watching.words import alarm_sentences
from station.screens.engineer import engineerwording
from station.screens.engineer.desk import Desk, Workshop
from station.screens.engineer.title import TitleLine, title_of
from station.screens.engineer.watchplot import chart_lines
from station.screens.shared.forms import Answers, Form

KINDS = ("single units", "means", "ranges", "weighted means")


class WatchScreen(Screen[None]):
    """Shows alarms and charts of the model on the desk; changes nothing."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("n", "turn(1)", "Next reading"),
        Binding("p", "turn(-1)", "Reading before"),
        Binding("k", "kind", "Another kind of chart"),
        Binding("f", "frequency", "A curve at one frequency"),
    ]

    @dataclass
    class Looked(Message):
        """The production is there, or why not."""

        found: Watched | StationError
        points: tuple[CurvePoint, ...]

    def __init__(self, desk: Desk, workshop: Workshop, views: str) -> None:
        super().__init__()
        self._desk = desk
        self._workshop = workshop
        self._views = views
        self._watched: Watched | None = None
        self._points: tuple[CurvePoint, ...] = ()  # that are asked for
        self._charted: tuple[CurvePoint, ...] = ()  # that are shown
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
        self.look(self._points)

    @work(thread=True, exclusive=True, exit_on_error=False)
    def look(self, points: tuple[CurvePoint, ...]) -> None:
        """Read the production, and post what comes of it."""
        try:
            found: Watched | StationError = self._workshop.watched(
                self._desk.draft.limits.model.name, self._desk.period, points
            )
        except StationError as error:
            found = error
        self.post_message(self.Looked(found, points))

    @on(Looked)
    def show(self, event: Looked) -> None:
        """Say what has moved, and draw a chart."""
        said = self.query_one("#said", Static)
        if isinstance(event.found, StationError):
            self._points = self._charted
            said.update(f"{event.found.happened} {event.found.remedy}")
            return
        self._watched = event.found
        newest = event.points != self._charted
        self._charted = event.points
        last = max(0, len(event.found.charts) - 1)
        self._place = last if newest else min(self._place, last)
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

    def action_frequency(self) -> None:
        """Ask for a curve and a frequency, and chart it besides the numbers."""
        suggested = self._points[-1] if self._points else self._desk.point
        form = Form(
            engineerwording.FREQUENCY_TITLE,
            engineerwording.FREQUENCY_ASKED,
            engineerwording.FREQUENCY_HINT,
            filled=("" if suggested is None else name_at(suggested.curve, suggested.at_hz),),
        )
        self.app.push_screen(form, self.chart_at)

    def chart_at(self, answers: Answers | None) -> None:
        """Chart the curve at the frequency, unless the engineer went back."""
        if answers is None:
            return
        point = point_named(answers[0])
        if point is None:
            self.query_one("#said", Static).update(engineerwording.no_point(answers[0]))
        else:
            kept = tuple(one for one in self._points if one != point)
            self._points = (*kept, point)
            self.look(self._points)

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
