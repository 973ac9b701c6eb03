"""A gauge study guided: who puts in which unit now; whoever stops goes on later."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Input, Static
from textual.worker import Worker, WorkerState

from station.cycle.unit.report import Progress
from station.errors import StationError
from station.judging.verdicts.verdict import Verdict
from station.quality.gauge.desk import Study
from station.records.kept.gauge import GaugeStep
from station.records.kept.run import Run
from station.screens.gauge import gaugescreenwords
from station.screens.gauge.findings import FindingsScreen
from station.screens.gauge.ports import GaugeBench
from station.screens.gauge.title import GaugeTitle
from station.screens.shared import wording
from station.screens.shared.serialentry import SerialEntry, cleaned_serial


class GuideScreen(Screen[None]):
    """Leads through the steps of a study in their order; the log says which are left."""

    AUTO_FOCUS = "#scan"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f5", "type_due", "Type what is due"),
        Binding("enter", "findings", "Findings"),
        Binding("escape", "back", "Stop, or back"),
    ]

    @dataclass
    class Held(Message):
        """The bench is ours, or why not."""

        error: StationError | None

    @dataclass
    class Progressed(Message):
        """The running measurement came this far."""

        progress: Progress

    @dataclass
    class Measured(Message):
        """A measurement is over."""

        step: GaugeStep
        outcome: tuple[Run, Study] | StationError

    def __init__(
        self, bench: GaugeBench, study: Study, on_fault: Callable[[BaseException], None]
    ) -> None:
        super().__init__()
        self._on_fault = on_fault
        self._bench = bench
        self._study = study
        self._greeted = ""  # the operator who showed a badge in this session
        self._held = False
        self._stop: threading.Event | None = None  # set only while a unit is measured

    @property
    def working(self) -> bool:
        """Whether a unit is being measured at this moment."""
        return self._stop is not None

    def compose(self) -> ComposeResult:
        """Lay out the guide."""
        title = gaugescreenwords.guide_title(self._study)
        yield GaugeTitle(title, simulated=self._bench.simulated)
        yield Static("", id="how-far", classes="line", markup=False)
        yield Static("", id="due", markup=False)
        with Horizontal(id="scan-row"):
            yield SerialEntry(id="scan", compact=True)
        yield Static("", id="message", classes="message", markup=False)
        with VerticalScroll(id="grid", can_focus=False):
            yield Static("", id="steps", markup=False)
        yield Static(self._keys, classes="keys", markup=False)

    def on_mount(self) -> None:
        """Take the bench."""
        self._show(gaugescreenwords.HOLDING)
        self.query_one("#scan", SerialEntry).disabled = True
        self.hold()

    @work(thread=True, exit_on_error=False)
    def hold(self) -> None:
        """Take the bench, and post whether it is ours."""
        try:
            self._bench.hold()
        except StationError as error:
            self.post_message(self.Held(error))
        else:
            self.post_message(self.Held(None))

    @on(Held)
    def begin(self, event: Held) -> None:
        """Ask for the first scan, or say why nothing can be measured."""
        self._held = event.error is None
        self._show("" if event.error is None else gaugescreenwords.error_line(event.error))

    @on(Input.Submitted, "#scan")
    def scan(self, event: Input.Submitted) -> None:
        """Let the operator in, or measure the unit that is due."""
        step = self._study.next_step
        if step is None or self.working or not self._held:
            return
        try:
            scanned = cleaned_serial(event.value)
            if not scanned:
                return
            if self._greeted != step.operator:
                self._bench.greet(scanned, step.operator)
                self._greeted = step.operator
                self._show("")
                return
        except StationError as error:
            self._show(gaugescreenwords.error_line(error))
            return
        if scanned != step.serial:
            self._show(gaugescreenwords.wrong_unit(scanned, step))
            return
        self._stop = threading.Event()
        self._show(gaugescreenwords.MEASURING)
        self.measure(self._study, step, self._stop)

    @work(thread=True, exit_on_error=False)
    def measure(self, study: Study, step: GaugeStep, stop: threading.Event) -> None:
        """Measure, and post what comes of it."""
        outcome: tuple[Run, Study] | StationError
        try:
            run = self._bench.measure(study, step, on_progress=self._post_progress, stop=stop)
            outcome = run, self._bench.study(study.plan.study_id)
        except StationError as error:
            outcome = error
        self.post_message(self.Measured(step, outcome))

    def _post_progress(self, progress: Progress) -> None:
        self.post_message(self.Progressed(progress))

    @on(Progressed)
    def show_progress(self, event: Progressed) -> None:
        """Show how far the measurement is."""
        if self._stop is not None and not self._stop.is_set():
            self._tell(wording.stage_line(event.progress))

    @on(Measured)
    def accept(self, event: Measured) -> None:
        """Say what came of it, and ask for the next."""
        self._stop = None
        if isinstance(event.outcome, StationError):
            self._show(gaugescreenwords.error_line(event.outcome))
            return
        run, self._study = event.outcome
        judgement = run.judgement
        void = judgement.verdict is Verdict.VOID
        self._show(
            gaugescreenwords.void_line(judgement)
            if void
            else gaugescreenwords.measured_line(event.step)
        )

    def action_type_due(self) -> None:
        """Type what is asked for, as a scanner would: on simulated units alone."""
        step = self._study.next_step
        entry = self.query_one("#scan", SerialEntry)
        if not self._bench.simulated or step is None or entry.disabled:
            return
        due = step.serial if self._greeted == step.operator else step.operator
        self.scan(Input.Submitted(entry, due))

    def action_findings(self) -> None:
        """Show what a complete study found, in place of its guide."""
        if self._study.next_step is None:
            study_id = self._study.plan.study_id
            self.app.switch_screen(FindingsScreen(self._bench, study_id, self._on_fault))

    def action_back(self) -> None:
        """Stop the measurement, or go back to the list; the steps left stay in the log."""
        if self.working:
            self.stop_first()
        else:
            self.app.pop_screen()

    def stop_first(self) -> None:
        """Stop the running measurement, before anything else is done."""
        if self._stop is not None:
            self._stop.set()
            self._tell(wording.STOPPING)

    def on_unmount(self) -> None:
        """Stop the measurement however the screen ends, and give the bench back."""
        if self._stop is not None:
            self._stop.set()
        self._bench.let_go()

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """Say so when a worker died of a bug."""
        error = event.worker.error
        if event.state is WorkerState.ERROR and error is not None:
            self._stop = None
            self._show(f"{wording.BUG_HAPPENED} {wording.BUG_REMEDY}")
            self._on_fault(error)

    @property
    def _keys(self) -> str:
        simulated = gaugescreenwords.SIMULATED_KEYS if self._bench.simulated else ""
        return simulated + gaugescreenwords.GUIDE_KEYS

    def _tell(self, words: str) -> None:
        message = self.query_one("#message", Static)
        message.update(words)
        message.set_class(bool(words), "-on")

    def _show(self, words: str) -> None:
        """Bring every line up to date."""
        step, total = self._study.next_step, len(self._study.plan.steps)
        due = gaugescreenwords.COMPLETE
        if step is not None:
            greeted = self._greeted == step.operator
            due = gaugescreenwords.due_lines(step, total, greeted=greeted)
        self.query_one("#how-far", Static).update(gaugescreenwords.progress_line(self._study))
        self.query_one("#due", Static).update(due)
        self.query_one("#steps", Static).update(gaugescreenwords.grid_lines(self._study))
        self._tell(words)
        entry = self.query_one("#scan", SerialEntry)
        entry.disabled = self.working or not self._held or step is None
        if not entry.disabled:
            entry.focus()
