"""What a gauge study found, reading by reading."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Static
from textual.worker import Worker, WorkerState

from station.errors import StationError
from station.quality.gauge.findings import GaugeFindings
from station.screens.gauge import gaugescreenwords
from station.screens.gauge.ports import GaugeBench
from station.screens.gauge.title import GaugeTitle
from station.screens.shared import wording


class FindingsScreen(Screen[None]):
    """Shows findings; computes them in a worker."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,enter", "back", "Back")]

    @dataclass
    class Found(Message):
        """The findings are there, or why not."""

        found: GaugeFindings | StationError

    def __init__(
        self, bench: GaugeBench, study_id: str, on_fault: Callable[[BaseException], None]
    ) -> None:
        super().__init__()
        self._on_fault = on_fault
        self._bench = bench
        self._study_id = study_id

    def compose(self) -> ComposeResult:
        """Lay out the findings."""
        yield GaugeTitle(self._study_id, simulated=self._bench.simulated)
        with VerticalScroll(id="found"):
            yield Static(gaugescreenwords.COMPUTING, id="findings", markup=False)
        yield Static(gaugescreenwords.FINDINGS_KEYS, classes="keys", markup=False)

    def on_mount(self) -> None:
        """Compute."""
        self.query_one("#found").focus()
        self.look()

    @work(thread=True, exit_on_error=False)
    def look(self) -> None:
        """Compute the findings, and post what comes of it."""
        try:
            found: GaugeFindings | StationError = self._bench.findings(self._study_id)
        except StationError as error:
            found = error
        self.post_message(self.Found(found))

    @on(Found)
    def show(self, event: Found) -> None:
        """Show the findings."""
        words = self.query_one("#findings", Static)
        if isinstance(event.found, StationError):
            words.update(gaugescreenwords.error_line(event.found))
            return
        title = gaugescreenwords.findings_title(event.found)
        self.query_one(".name", Static).update(title)
        words.update(gaugescreenwords.findings_lines(event.found))

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """Say so when a worker died of a bug."""
        error = event.worker.error
        if event.state is WorkerState.ERROR and error is not None:
            self.query_one("#findings", Static).update(wording.BUG_HAPPENED)
            self._on_fault(error)

    def action_back(self) -> None:
        """Go back to the list."""
        self.app.pop_screen()
