"""The quality engineer's program: choose a model and period, then look at it in several views."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from textual import on, work
from textual.app import App
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.screen import Screen
from textual.worker import Worker, WorkerState

from station.errors import StationError
from station.quality.whatif.draft import Draft
from station.records.summaries.runlist import Period
from station.screens.engineer import engineerwording
from station.screens.engineer.choice import ChoiceScreen
from station.screens.engineer.desk import Desk, Workshop
from station.screens.engineer.dialogs import LeaveQuestion
from station.screens.engineer.views import VIEWS, views_line
from station.screens.gauge.guide import GuideScreen
from station.screens.gauge.list import GaugeScreen
from station.screens.gauge.ports import GaugeBench
from station.screens.shared import palette, wording


class EngineerApp(App[None]):
    """One engineer, one draft, no mouse: run it with `run(mouse=False)`."""

    CSS_PATH = "app.tcss"
    ENABLE_COMMAND_PALETTE = False
    TITLE = "Station"
    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(view.key, f"view('{view.key}')", view.name) for view in VIEWS),
        Binding("c", "choose", "Choose again"),
        Binding("g", "gauge", "Gauge studies"),
    ]

    @dataclass
    class Opened(Message):
        """A model's units are there, or why not."""

        found: Draft | StationError
        period: Period

    def __init__(
        self,
        workshop: Workshop,
        gauges: GaugeBench,
        *,
        now_utc: datetime,
        on_fault: Callable[[BaseException], None],
    ) -> None:
        super().__init__()
        self._workshop = workshop
        self._gauges = gauges
        self._now_utc = now_utc
        self._on_fault = on_fault
        self.desk: Desk | None = None
        self._views: dict[str, Screen[None]] = {}

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Return our colours for the style sheets."""
        return palette.css_variables()

    def on_mount(self) -> None:
        """Ask what is to be looked at."""
        self._choose()

    def _choose(self) -> None:
        self.desk, self._views = None, {}
        screen = ChoiceScreen(self._workshop.models(), self._now_utc)
        if len(self.screen_stack) > 1:
            self.switch_screen(screen)
        else:
            self.push_screen(screen)

    @on(ChoiceScreen.Wanted)
    def open_model(self, event: ChoiceScreen.Wanted) -> None:
        """Read the log while the screen stays alive."""
        if isinstance(self.screen, ChoiceScreen):
            self.screen.tell(engineerwording.READING_LOG)
            self.screen.disabled = True
        self.read_log(event.model, event.period)

    @work(thread=True, exit_on_error=False)
    def read_log(self, model: str, period: Period) -> None:
        """Read the units, and post what comes of it."""
        try:
            found: Draft | StationError = self._workshop.opened(model, period)
        except StationError as error:
            found = error
        self.post_message(self.Opened(found, period))

    @on(Opened)
    def put_on_desk(self, event: Opened) -> None:
        """Show the limits over the units, or why there are none."""
        if isinstance(event.found, StationError):
            self._tell_choice(f"{event.found.happened} {event.found.remedy}")
            return
        self.desk = Desk(event.found, event.period)
        self._views = {
            view.key: view.screen(self.desk, self._workshop, views_line()) for view in VIEWS
        }
        self.switch_screen(self._views[VIEWS[0].key])

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """Say so when a worker died of a bug."""
        if event.state is WorkerState.ERROR and event.worker.error is not None:
            self._tell_choice(wording.BUG_HAPPENED)
            self._on_fault(event.worker.error)

    def _tell_choice(self, words: str) -> None:
        if isinstance(self.screen, ChoiceScreen):
            self.screen.disabled = False
            self.screen.tell(words)

    def action_view(self, key: str) -> None:
        """Show another view of what is on the desk."""
        if key in self._views and self.screen in self._views.values():
            self.switch_screen(self._views[key])

    def action_choose(self) -> None:
        """Go back to the choice, but ask first where changes would be lost."""
        if self.screen in self._views.values():
            self._unless_lost(self._choose)

    def action_gauge(self) -> None:
        """Show the gauge studies, over whatever is shown now."""
        if isinstance(self.screen, ChoiceScreen) or self.screen in self._views.values():
            self.push_screen(GaugeScreen(self._gauges, self._on_fault))

    async def action_quit(self) -> None:
        """Leave, but stop a measurement first, and ask where changes would be lost."""
        if isinstance(self.screen, GuideScreen) and self.screen.working:
            self.screen.stop_first()
        else:
            self._unless_lost(self.exit)

    def _unless_lost(self, act: Callable[[], None]) -> None:
        if self.desk is None or self.desk.saved:
            act()
            return

        def answered(leave: bool | None) -> None:  # noqa: FBT001 - Textual passes it in place
            if leave:
                act()

        self.push_screen(LeaveQuestion(), answered)
