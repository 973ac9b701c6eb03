"""The technician's screen: a unit from its label to the end of its service, by keys alone."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
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
from station.screens.shared import wording
from station.screens.shared.curvewidget import CurvePlot
from station.screens.shared.forms import Answers, Form
from station.screens.shared.serialentry import SerialEntry, cleaned_serial
from station.screens.technician import servicewords, technicianwords
from station.screens.technician.ports import Desk, Printer, Views
from station.service.dossier import Dossier
from station.service.servicetest import ServiceTest

ViewsOf = Callable[[Dossier, ServiceTest], Views]


class TechnicianScreen(Screen[None]):
    """Puts what the desk knows onto widgets; computes nothing."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f1", "help", "Help"),
        Binding("f2", "open", "Open"),
        Binding("f3", "test", "Test"),
        Binding("f4", "part", "Part"),
        Binding("f5", "cause", "Cause"),
        Binding("f6", "partner", "Partner"),
        Binding("f7", "view", "View"),
        Binding("f8", "certificate", "Certificate"),
        Binding("f9", "rework_card", "Rework card"),
        Binding("f10", "close_service", "Close"),
        Binding("escape", "stop", "Stop"),
    ]
    AUTO_FOCUS = "#serial"

    @dataclass
    class Done(Message):
        """A piece of work at the desk is over; `dossier` is None if it failed.

        `said` is shown as the answer; `next_step` only where it failed, else the dossier tells.
        """

        said: str
        dossier: Dossier | None
        test: ServiceTest | None = None
        views: Views | None = None
        next_step: str = ""

    @dataclass
    class Progressed(Message):
        """The running test came this far."""

        progress: Progress

    def __init__(
        self,
        desk: Desk,
        printer: Printer,
        views_of: ViewsOf,
        *,
        by: str,
        station_name: str,
        simulated: bool,
        on_fault: Callable[[BaseException], None],
    ) -> None:
        super().__init__()
        self._desk = desk
        self._printer = printer
        self._views_of = views_of
        self._by = by
        self._station_name = station_name
        self._simulated = simulated
        self._on_fault = on_fault
        self._serial = ""
        self._views = Views(None, None)
        self._shows_as_built = False
        self._stop: threading.Event | None = None  # set only while the desk works
        self._leaving = False

    @property
    def working(self) -> bool:
        """Whether something is being done at this moment."""
        return self._stop is not None

    def compose(self) -> ComposeResult:
        """Lay out the screen; the style sheet decides what shows at which size."""
        with Horizontal(id="top"):
            yield Static(self._station_name, id="station-name", markup=False)
            simulated = wording.SIMULATED if self._simulated else ""
            yield Static(simulated, id="simulated", classes="-on" if self._simulated else "")
            yield Static(technicianwords.who_line(self._by), id="keys", markup=False)
        with Horizontal(id="entry"):
            yield Static(wording.ENTRY_LABEL, id="entry-label", markup=False)
            yield SerialEntry(placeholder=technicianwords.PROMPT, id="serial", compact=True)
            yield Static("", id="unit", markup=False)
        with Horizontal(id="middle"):
            with VerticalScroll(id="known", can_focus=False):
                yield Static(technicianwords.NO_UNIT, id="dossier", markup=False)
            yield CurvePlot(id="curve")
        yield Static("", id="answer", markup=False)
        yield Static(technicianwords.SCAN, id="next-step", markup=False)
        yield Static(technicianwords.KEYS, id="actions", markup=False)

    @on(Input.Submitted, "#serial")
    def scan(self, event: Input.Submitted) -> None:
        """Look up what was scanned."""
        try:
            serial = cleaned_serial(event.value)
        except StationError as error:
            self.query_one("#answer", Static).update(error.happened.strip())
            self.say(error.remedy.strip())
            return
        if not serial or self.working:
            return
        self._serial = serial
        self._views = Views(None, None)
        self._show_view()
        self.query_one("#unit", Static).update(serial)
        self.query_one("#dossier", Static).update("")
        self._begin(technicianwords.LOOKING)
        self.look_up(serial)

    def action_help(self) -> None:
        """Show how to work here."""
        self.say(technicianwords.HELP)

    def action_open(self) -> None:
        """Begin a service."""
        self._ask(
            technicianwords.OPEN,
            lambda a: self._desk.open(self._serial, self._by, a[0], a[1] or None),
        )

    def action_part(self) -> None:
        """Note a part that was replaced."""
        self._ask(
            technicianwords.PART,
            lambda a: self._desk.replace_part(self._serial, self._by, a[0], a[1], a[2]),
        )

    def action_cause(self) -> None:
        """Note the part that was at fault."""
        self._ask(
            technicianwords.CAUSE,
            lambda a: self._desk.confirm_cause(self._serial, self._by, a[0], a[1]),
        )

    def action_partner(self) -> None:
        """Compare with the other unit of the pair."""
        self._ask(
            technicianwords.PARTNER,
            lambda a: self._desk.check_partner(self._serial, self._by, a[0]),
        )

    def action_close_service(self) -> None:
        """End the service."""
        self._ask(technicianwords.CLOSE, lambda a: self._desk.close(self._serial, self._by, a[0]))

    def action_certificate(self) -> None:
        """Write the certificate."""
        if self._ready():
            self._work(technicianwords.PRINTING, self._print(self._printer.certificate))

    def action_rework_card(self) -> None:
        """Write the rework card."""
        if self._ready():
            self._work(technicianwords.PRINTING, self._print(self._printer.rework_card))

    def action_test(self) -> None:
        """Ask by which revision, then test."""
        form = technicianwords.TEST
        if self._ready():
            self.app.push_screen(Form(form.title, form.asked, form.hint), self._begin_test)

    def action_view(self) -> None:
        """Draw the curve against the unit as built, or against its limits again."""
        self._shows_as_built = not self._shows_as_built
        self._show_view()

    def action_stop(self) -> None:
        """Stop the running test."""
        if self._stop is not None:
            self._stop.set()
            self.say(wording.STOPPING)

    def leave(self) -> None:
        """Leave the program, after a running test was stopped and its run is stored."""
        if self._stop is None:
            self.app.exit()
            return
        self._leaving = True
        self._stop.set()
        self.say(wording.QUITTING)

    def on_unmount(self) -> None:
        """Stop the test however the program ends."""
        if self._stop is not None:
            self._stop.set()

    def say(self, words: str) -> None:
        """Show what to do next."""
        self.query_one("#next-step", Static).update(words)

    def _ready(self) -> bool:
        if self.working:
            return False
        if not self._serial:
            self.say(technicianwords.SCAN)
        return bool(self._serial)

    def _ask(self, form: technicianwords.Asked, act: Callable[[Answers], object]) -> None:
        """Show a form and do what it was for."""

        def answered(answers: Answers | None) -> None:
            if answers is not None:
                self._work(form.title, lambda: acted(answers))

        def acted(answers: Answers) -> str:
            act(answers)
            return ""

        if self._ready():
            self.app.push_screen(Form(form.title, form.asked, form.hint), answered)

    def _print(self, write: Callable[[str], tuple[Path, ...]]) -> Callable[[], str]:
        return lambda: technicianwords.written_line(write(self._serial))

    def _begin_test(self, answers: Answers | None) -> None:
        if answers is not None:
            self._begin(technicianwords.TESTING)
            assert self._stop is not None
            self.run_test(self._serial, answers[0] or None, self._stop)

    def _work(self, words: str, act: Callable[[], str]) -> None:
        self._begin(words)
        self.run_work(self._serial, act)

    def _begin(self, words: str) -> None:
        self._stop = threading.Event()
        self.query_one("#serial", SerialEntry).disabled = True
        self.query_one("#answer", Static).update("")  # never leave the last answer up
        self.say(words)

    @work(thread=True, exit_on_error=False)
    def look_up(self, serial: str) -> None:
        """Look a unit up, and post it with its newest test, which somebody may go on from."""
        try:
            dossier = self._desk.look_up(serial)
            test = self._desk.last_test(dossier)
            views = None if test is None else self._views_of(dossier, test)
            done = self.Done("", dossier, test, views)
        except StationError as error:
            done = self._failed(error)
        self.post_message(done)

    @work(thread=True, exit_on_error=False)
    def run_work(self, serial: str, act: Callable[[], str]) -> None:
        """Do something at the desk, and post what comes of it."""
        try:
            said = act()
            done = self.Done(said, self._desk.look_up(serial))
        except StationError as error:
            done = self._failed(error)
        self.post_message(done)

    @work(thread=True, exit_on_error=False)
    def run_test(self, serial: str, revision: str | None, stop: threading.Event) -> None:
        """Test the unit, and post what comes of it."""
        try:
            tested = self._desk.test(
                serial,
                self._by,
                service_revision=revision,
                on_progress=self._post_progress,
                stop=stop,
            )
            dossier = self._desk.look_up(serial)
            done = self.Done("", dossier, tested, self._views_of(dossier, tested))
        except StationError as error:
            done = self._failed(error)
        self.post_message(done)

    def _failed(self, error: StationError) -> Done:
        """Return the end of a piece of work that was refused or went wrong."""
        return self.Done(error.happened.strip(), None, next_step=error.remedy.strip())

    def _post_progress(self, progress: Progress) -> None:
        self.post_message(self.Progressed(progress))

    @on(Progressed)
    def show_progress(self, event: Progressed) -> None:
        """Show how far the test is."""
        if self._stop is not None and not self._stop.is_set():
            self.say(wording.stage_line(event.progress))

    @on(Done)
    def finish(self, event: Done) -> None:
        """Show what came of it, and be ready again."""
        self._stop = None
        if self._leaving:
            self.app.exit()
            return
        entry = self.query_one("#serial", SerialEntry)
        entry.disabled = False
        entry.focus()
        if event.test is not None:
            self._views = event.views or Views(None, None)
            self._show_view()
            self.query_one("#answer", Static).update(
                technicianwords.answer(event.test, self._views.suspect)
            )
        elif event.said:
            self.query_one("#answer", Static).update(event.said)
        if event.dossier is not None:
            self._show_dossier(event.dossier)
        else:
            self.say(event.next_step)

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """Show a station fault when a worker died of a bug: never an old answer."""
        error = event.worker.error
        if event.state is WorkerState.ERROR and error is not None:
            self.finish(self.Done(wording.BUG_HAPPENED, None, next_step=wording.BUG_REMEDY))
            self._on_fault(error)

    def _show_dossier(self, dossier: Dossier) -> None:
        lines = "\n".join(servicewords.dossier_lines(dossier))
        self.query_one("#dossier", Static).update(lines)
        self.query_one("#known", VerticalScroll).scroll_end(animate=False)
        unit = wording.unit_line(dossier.serial, dossier.model, dossier.revision)
        self.query_one("#unit", Static).update(unit)
        self.say(servicewords.next_step(dossier))

    def _show_view(self) -> None:
        band = self._views.as_built if self._shows_as_built else self._views.by_limits
        title = technicianwords.view_title(self._views.reading, as_built=self._shows_as_built)
        self.query_one(CurvePlot).show("" if band is None else title, band)
