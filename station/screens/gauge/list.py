"""The list of gauge studies: plan one, go on with one, look at what one found."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import Screen
from textual.widgets import OptionList, Static

from station.errors import StationError
from station.quality.gauge.desk import Study
from station.screens.gauge import gaugescreenwords
from station.screens.gauge.findings import FindingsScreen
from station.screens.gauge.guide import GuideScreen
from station.screens.gauge.ports import GaugeBench
from station.screens.gauge.title import GaugeTitle
from station.screens.shared.forms import Answers, Form


class GaugeScreen(Screen[None]):
    """Lists studies; Enter goes on with the chosen one."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("a", "plan", "Plan"),
        Binding("escape", "back", "Back"),
    ]

    def __init__(self, bench: GaugeBench, on_fault: Callable[[BaseException], None]) -> None:
        super().__init__()
        self._on_fault = on_fault
        self._bench = bench
        self._studies: tuple[Study, ...] = ()
        self._refused = ""  # why the last plan was none
        self._answers: Answers = ()  # what it was, to be mended

    def compose(self) -> ComposeResult:
        """Lay out the list."""
        yield GaugeTitle(gaugescreenwords.LIST_TITLE, simulated=self._bench.simulated)
        yield OptionList(id="studies", markup=False)
        yield Static("", id="message", classes="line message", markup=False)
        yield Static(gaugescreenwords.LIST_KEYS, classes="keys", markup=False)

    def on_screen_resume(self) -> None:
        """Look at the log anew."""
        try:
            self._studies = self._bench.studies()
        except StationError as error:
            self.tell(gaugescreenwords.error_line(error))
            return
        options = self.query_one("#studies", OptionList)
        options.clear_options()
        options.add_options(gaugescreenwords.study_line(study) for study in self._studies)
        if self._studies:
            options.highlighted = len(self._studies) - 1
        options.focus()
        nothing = "" if self._studies else gaugescreenwords.NO_STUDIES
        self.tell(self._refused or nothing)
        self._refused = ""

    def tell(self, words: str) -> None:
        """Show a sentence, or none."""
        self.query_one("#message", Static).update(words)
        self.query_one("#message").set_class(bool(words), "-on")

    @on(OptionList.OptionSelected)
    def go_on(self, event: OptionList.OptionSelected) -> None:
        """Guide the chosen study, or show what it found."""
        study = self._studies[event.option_index]
        if study.left:
            self.app.push_screen(GuideScreen(self._bench, study, self._on_fault))
        else:
            study_id = study.plan.study_id
            self.app.push_screen(FindingsScreen(self._bench, study_id, self._on_fault))

    def action_plan(self) -> None:
        """Ask for a new study."""
        form = Form(gaugescreenwords.PLAN_TITLE, gaugescreenwords.PLAN_ASKED, filled=self._answers)
        self.app.push_screen(form, self.plan_as)

    def plan_as(self, answers: Answers | None) -> None:
        """Store the plan, unless the engineer went back, and begin it."""
        if answers is None:
            return
        self._answers = answers
        units, operators, repeats, by, title = answers
        try:
            study = self._bench.plan(
                units=units, operators=operators, repeats=repeats, by=by, title=title
            )
        except StationError as error:
            self._refused = gaugescreenwords.error_line(error)
            self.tell(self._refused)
            return
        self._answers = ()
        self.app.push_screen(GuideScreen(self._bench, study, self._on_fault))

    def action_back(self) -> None:
        """Go back to where the engineer came from."""
        self.app.pop_screen()
