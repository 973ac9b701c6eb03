"""The screen of the line operator: scan, wait, one answer, one next step."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.screen import Screen
from textual.widgets import Input, Static
from textual.worker import Worker, WorkerState

from station.cycle.unit.report import Progress, Stage, UnitReport
from station.errors import StationError, UnknownSerialError
from station.hardware.protocols.fixture import Scanner
from station.records.summaries.shift import ShiftCount
from station.screens.line.messages import (
    AllOff,
    Counted,
    Finished,
    ModelKnown,
    Progressed,
    Scanned,
    SignedIn,
    Suspected,
)
from station.screens.line.outcome import (
    NOT_KNOWN_TO_BE_OFF,
    RUNNING,
    SIGNING,
    STATION_BUG,
    SWITCHING_OFF,
    TO_START,
    Outcome,
    outcome_of_all_off,
    outcome_of_error,
    outcome_of_report,
    outcome_of_signing,
    ready_for,
)
from station.screens.line.ports import Cycle, Desk
from station.screens.line.statusrow import StatusRow
from station.screens.line.verdictpanel import SuspectLine, VerdictPanel
from station.screens.shared import wording
from station.screens.shared.curvewidget import CurvePlot
from station.screens.shared.dialogs import HelpScreen
from station.screens.shared.serialentry import SerialEntry, cleaned_serial


class OperatorScreen(Screen[None]):
    """Puts outcomes of the cycle onto widgets; computes nothing."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "stop_test", "Stop"),
        Binding("f1", "help", "Help"),
        Binding("f2", "drawing", "Drawing"),
        Binding("f4", "sign_out", "Sign out"),
        Binding("f5", "next_unit", "Next unit"),
    ]
    AUTO_FOCUS = "#serial"

    def __init__(
        self,
        cycle: Cycle,
        *,
        station_name: str,
        simulated: bool,
        on_fault: Callable[[BaseException], None],
        next_unit: Callable[[], str] | None = None,
        scanner: Scanner | None = None,
        ears_db_spl: float | None = None,
        desk: Desk | None = None,
        trial: bool = False,
    ) -> None:
        super().__init__()
        self._desk = desk  # None where nobody has to sign in
        self._trial = trial
        self._signing = False  # while a badge is looked up
        self._scanner = scanner
        self._ears_db_spl = ears_db_spl
        self._off_outcome = SWITCHING_OFF
        self._off = False  # after all was switched off, until the operator goes on
        self._next_unit = next_unit  # a simulated line's, which has no labels to scan
        self._cycle = cycle
        self._station_name = station_name
        self._simulated = simulated
        self._on_fault = on_fault
        self._stop: threading.Event | None = None  # set only while a test runs
        self._leaving = False
        self._shown: UnitReport | None = None  # whose answer is up
        self._not_tested = ""  # the second scan of a burst, until the next test starts

    @property
    def testing(self) -> bool:
        """Whether a test runs at this moment."""
        return self._stop is not None

    def compose(self) -> ComposeResult:
        """Lay out the screen; the style sheet decides what shows at which size."""
        yield StatusRow(
            self._station_name,
            simulated=self._simulated,
            ears_db_spl=self._ears_db_spl,
            trial=self._trial,
            operator=self._operator_tag(),
            keys=wording.KEYS if self._desk is None else wording.KEYS_WITH_SIGN_OUT,
        )
        with Horizontal(id="entry"):
            yield Static(wording.ENTRY_LABEL, id="entry-label", markup=False)
            yield SerialEntry(placeholder=self._prompt(), id="serial", compact=True)
            yield Static("", id="unit", markup=False)
        yield VerdictPanel(id="verdict")
        yield Static("", id="next-step", markup=False)
        yield Static("", id="details", markup=False)
        yield SuspectLine("", id="suspect", markup=False)
        with Horizontal(id="lower"):
            yield CurvePlot(id="curve")
            yield Static("", id="shift-column", markup=False)
        yield Static("", id="shift-line", markup=False)

    def on_mount(self) -> None:
        """Be ready for the first scan."""
        self._show(ready_for(self._operator(), signs_in=self._desk is not None))
        self.count_shift()
        if self._scanner is not None:
            self.listen_to_scanner(self._scanner)

    @on(Input.Submitted, "#serial")
    def start(self, event: Input.Submitted) -> None:
        """Start a test with what was typed, or scanned by a scanner that types."""
        self._start(event.value)

    @on(Scanned)
    def start_scanned(self, event: Scanned) -> None:
        """Start a test with what was scanned."""
        self._start(event.label)

    def _start(self, scanned: str) -> None:
        """Start a test with a label, unless one runs or everything was switched off."""
        if self._off:
            return
        try:
            serial = cleaned_serial(scanned)
        except UnknownSerialError as error:
            if not self.testing:
                self._show(outcome_of_error(error))
            return
        if not serial:  # a scanner that ends with both CR and LF sends an empty line
            return
        if self.testing or self._signing:  # the second of two scans in one burst
            self._not_tested = wording.ignored_line(serial)
            return
        if self._desk is not None and self._desk.is_badge(serial):
            self._begin_signing()
            self.sign(self._desk, serial)
            return
        self.query_one(SerialEntry).close_for(
            wording.ENTRY_CLOSED
        )  # exclusive=True would not stop a running thread
        self._not_tested = ""
        self._stop = threading.Event()
        self._show(RUNNING)  # never leave the last unit's answer up
        self.query_one("#unit", Static).update(serial)
        self.test_unit(serial, self._stop)

    @work(thread=True, exit_on_error=False)
    def test_unit(self, serial: str, stop: threading.Event) -> None:
        """Run the cycle, and post what comes of it."""
        try:
            model, revision = self._cycle.model_of(serial)
            self.post_message(ModelKnown(serial, model, revision))
            report = self._cycle.test_unit(serial, on_progress=self._post_progress, stop=stop)
        except StationError as error:
            self.post_message(Finished(outcome_of_error(error)))
        else:
            self.post_message(Finished(outcome_of_report(report), report))

    @work(thread=True, exit_on_error=False)
    def find_suspects(self, report: UnitReport) -> None:
        """Find who is suspected of a fail, and post it."""
        self.post_message(Suspected(report, self._cycle.suspects_of(report)))

    @work(thread=True, exit_on_error=False)
    def sign(self, desk: Desk, badge: str | None) -> None:
        """Sign in whose badge it is, or out, and post what comes of it."""
        self.post_message(SignedIn(outcome_of_signing(desk, badge)))

    @work(thread=True, exit_on_error=False)
    def listen_to_scanner(self, scanner: Scanner) -> None:
        """Post every label that is read, until the scanner is ended."""
        while (label := scanner.next_serial()) is not None:
            self.post_message(Scanned(label))

    @work(thread=True, exit_on_error=False)
    def make_safe(self) -> None:
        """Switch everything off, and post what comes of it."""
        error: StationError | None = None
        try:
            self._cycle.make_safe()
        except StationError as fault:
            error = fault
        self.post_message(AllOff(error))

    @work(thread=True, exit_on_error=False)
    def count_shift(self) -> None:
        """Read the counters, and post them."""
        try:
            shift: ShiftCount | None = self._cycle.shift_so_far()
        except StationError:
            shift = None
        self.post_message(Counted(shift))

    def _post_progress(self, progress: Progress) -> None:
        self.post_message(Progressed(progress))

    @on(ModelKnown)
    def show_model(self, event: ModelKnown) -> None:
        """Show what the serial number stands for."""
        line = wording.unit_line(event.serial, event.model, event.revision)
        self.query_one("#unit", Static).update(line)

    @on(Progressed)
    def show_progress(self, event: Progressed) -> None:
        """Show how far the test is, unless it is being stopped or is over."""
        if self._stop is None or self._stop.is_set():
            return
        waiting = event.progress.stage is Stage.WAITING
        self.query_one(VerdictPanel).show(TO_START if waiting else RUNNING)
        self.query_one("#next-step", Static).update(wording.stage_line(event.progress))
        line = "" if waiting else wording.progress_line(event.progress)
        self.query_one("#details", Static).update(line)

    @on(Finished)
    def finish(self, event: Finished) -> None:
        """Show the answer and be ready for the next scan."""
        self._end_test(event.outcome)
        self._shown = event.report
        if event.report is not None and not self._leaving:
            self.find_suspects(event.report)
        self.count_shift()

    @on(Suspected)
    def show_suspect(self, event: Suspected) -> None:
        """Show who is suspected, unless another answer has come up since."""
        if event.report is self._shown and not self.testing:
            self.query_one(SuspectLine).show(wording.suspect_line(event.diagnosis))

    @on(SignedIn)
    def show_signed_in(self, event: SignedIn) -> None:
        """Show who is at work, and be ready for the next scan."""
        self._end_signing(event.outcome)

    @on(AllOff)
    def show_all_off(self, event: AllOff) -> None:
        """Say that everything is off, or that nobody knows."""
        self._off_outcome = outcome_of_all_off(event.error)
        if not self.testing:
            self._show(self._off_outcome)

    @on(Counted)
    def show_shift(self, event: Counted) -> None:
        """Show the counters of the shift."""
        self.query_one("#shift-column", Static).update(wording.shift_column(event.shift))
        self.query_one("#shift-line", Static).update(wording.shift_line(event.shift))

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """Show a station fault when a worker died of a bug: never a fail, never the old answer."""
        error = event.worker.error
        if event.state is not WorkerState.ERROR or error is None:
            return
        match event.worker.name:
            case "test_unit":
                self._end_test(STATION_BUG)
            case "sign":
                self._end_signing(STATION_BUG)
            case "make_safe":
                self.post_message(AllOff(NOT_KNOWN_TO_BE_OFF))
            case "count_shift":
                self.post_message(Counted(None))
        self._on_fault(error)

    def action_stop_test(self) -> None:
        """Stop the running test."""
        if self._stop is not None:
            self._stop.set()
            self.query_one("#next-step", Static).update(wording.STOPPING)

    def action_all_off(self) -> None:
        """Switch everything off at once; pressed again when it is off, go on."""
        if self._off and not self.testing:
            self._off = False
            self._open_entry()
            self._show(ready_for(self._operator(), signs_in=self._desk is not None))
            return
        self._off = True
        for _ in self.app.screen_stack[1:]:
            self.app.pop_screen()
        if self._stop is not None:
            self._stop.set()  # before the silence, so that a sweep which is about to begin does not
        self.query_one(SerialEntry).close_for(wording.ENTRY_OFF)
        self._off_outcome = SWITCHING_OFF
        self._show(SWITCHING_OFF)
        self.make_safe()

    def action_help(self) -> None:
        """Show the help and the cautions."""
        self.app.push_screen(HelpScreen())

    def action_drawing(self) -> None:
        """Draw the curve the other way."""
        self.query_one(CurvePlot).toggle_mode()

    def action_sign_out(self) -> None:
        """Sign out whoever has signed in, unless a test runs."""
        if self.testing or self._signing or self._off:
            return
        if self._desk is not None and self._desk.operator is not None:
            self._begin_signing()
            self.sign(self._desk, None)

    def action_next_unit(self) -> None:
        """Type the label of the unit that waits on a simulated line; Enter stays the operator's."""
        if self._next_unit is not None and not self.testing:
            self.query_one(SerialEntry).offer(self._next_unit)

    def leave(self) -> None:
        """Leave the program, after the running test was stopped and its run is stored."""
        if self._stop is None:
            self.app.exit()
            return
        self._leaving = True
        self._stop.set()
        self.query_one("#next-step", Static).update(wording.QUITTING)

    def on_unmount(self) -> None:
        """Stop the test however the program ends."""
        if self._stop is not None:
            self._stop.set()
        if self._scanner is not None:
            self._scanner.end()

    def _operator(self) -> str | None:
        operator = None if self._desk is None else self._desk.operator
        return None if operator is None else operator.name

    def _operator_tag(self) -> str:
        return "" if self._desk is None else wording.operator_tag(self._operator())

    def _begin_signing(self) -> None:
        self._signing = True
        self._not_tested = ""
        self.query_one(SerialEntry).close_for(wording.ENTRY_SIGNING)
        self.query_one("#unit", Static).update("")
        self._show(SIGNING)  # never leave the last unit's answer up

    def _end_signing(self, outcome: Outcome) -> None:
        self._signing = False
        self.query_one("#operator", Static).update(self._operator_tag())
        if not self._off:
            self._open_entry()
            self._show(outcome)

    def _prompt(self) -> str:
        if self._desk is not None and self._desk.operator is None:
            return wording.ENTRY_BADGE
        if self._next_unit is None:
            return wording.ENTRY_PROMPT
        return wording.next_unit_prompt(self._next_unit())

    def _end_test(self, outcome: Outcome) -> None:
        self._stop = None
        self.query_one("#operator", Static).update(self._operator_tag())  # gone if removed
        if self._leaving:
            self.app.exit()
            return
        for _ in self.app.screen_stack[1:]:
            self.app.pop_screen()  # an open help must not hide the answer
        if self._off:
            self._show(self._off_outcome)
            return
        self._open_entry()
        self._show(outcome)

    def _open_entry(self) -> None:
        self.query_one(SerialEntry).open_for(self._not_tested or self._prompt())

    def _show(self, outcome: Outcome) -> None:
        self._shown = None
        self.query_one(SuspectLine).show("")
        self.query_one(VerdictPanel).show(outcome)
        self.query_one("#next-step", Static).update(outcome.next_step)
        self.query_one("#details", Static).update("\n".join(outcome.details))
        band = outcome.band
        title = wording.plot_title(outcome.reading, band.unit) if band is not None else ""
        self.query_one(CurvePlot).show(title, band)
