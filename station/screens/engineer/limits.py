"""The view of one limit over many units: its breakpoints move by keys, the flips count at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import Screen
from textual.widgets import Static

from station.errors import StationError
from station.quality.judged.manyunits import tables_of
from station.quality.whatif.edit import step_of
from station.screens.engineer import engineerwording
from station.screens.engineer.desk import Desk, Workshop
from station.screens.engineer.dialogs import SaveDialog
from station.screens.engineer.plotwidget import ManyUnitsPlot
from station.screens.engineer.title import TitleLine, title_of

FAR = 10  # steps


class LimitsScreen(Screen[None]):
    """Shows one limit of the draft and moves it; computes nothing."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("n", "turn(1)", "Next limit"),
        Binding("p", "turn(-1)", "Limit before"),
        Binding("right", "along(1)", "Next breakpoint"),
        Binding("left", "along(-1)", "Breakpoint before"),
        Binding("tab", "side", "Other side", priority=True),
        Binding("up", "move(1)", "Up"),
        Binding("down", "move(-1)", "Down"),
        Binding("pageup", f"move({FAR})", "Far up"),
        Binding("pagedown", f"move({-FAR})", "Far down"),
        Binding("a", "add", "Add"),
        Binding("d", "delete", "Delete"),
        Binding("u", "undo", "Undo"),
        Binding("s", "save", "Save"),
    ]

    def __init__(self, desk: Desk, workshop: Workshop, views: str) -> None:
        super().__init__()
        self._desk = desk
        self._workshop = workshop
        self._views = views
        self._message = ""

    def compose(self) -> ComposeResult:
        """Lay out the view."""
        yield TitleLine(title_of(self._desk.draft), self._views, simulated=self._workshop.simulated)
        yield Static("", id="limit", classes="line strong", markup=False)
        yield ManyUnitsPlot(id="plot")
        yield Static("", id="point", classes="line strong", markup=False)
        yield Static("", id="counts", classes="line", markup=False)
        yield Static("", id="flips", classes="line", markup=False)
        yield Static("", id="message", classes="line message", markup=False)
        yield Static(engineerwording.LIMITS_KEYS, classes="keys", markup=False)

    def on_screen_resume(self) -> None:
        """Show the desk as it is, whichever view changed it, and what a dialog left to be said."""
        self.show(self._message)

    def show(self, message: str = "") -> None:
        """Bring every line up to date."""
        self._message = message
        desk, draft = self._desk, self._desk.draft
        chosen, limit = desk.chosen, desk.limit
        self.query_one(ManyUnitsPlot).show(desk.picture())
        line = engineerwording.limit_line(
            limit, chosen.place, len(tables_of(draft.limits)), desk.failing,
            changed=chosen.place in draft.changed,
        )  # fmt: skip
        point = engineerwording.point_line(
            limit, chosen.index, chosen.side, desk.unit_words(), step_of(limit)
        )
        counts = draft.counts
        for name, words in (
            ("limit", line),
            ("point", point),
            ("counts", engineerwording.counts_line(counts)),
            ("flips", engineerwording.flips_line(counts)),
            ("message", message),
        ):
            self.query_one(f"#{name}", Static).update(words)
        self.query_one("#message").set_class(bool(message), "-on")

    def attempt(self, act: Callable[[], None]) -> None:
        """Do something to the desk and show it, or show why it cannot be done."""
        try:
            act()
        except StationError as error:
            self.show(f"{error.happened} {error.remedy}")
        else:
            self.show()

    def action_turn(self, by: int) -> None:
        """Show another limit."""
        self._desk.turn(by)
        self.show()

    def action_along(self, by: int) -> None:
        """Choose another breakpoint."""
        self._desk.step_along(by)
        self.show()

    def action_side(self) -> None:
        """Choose the other side."""
        self._desk.other_side()
        self.show()

    def action_move(self, steps: int) -> None:
        """Move what is chosen."""
        self.attempt(lambda: self._desk.move(steps))

    def action_add(self) -> None:
        """Add a breakpoint."""
        self.attempt(self._desk.add)

    def action_delete(self) -> None:
        """Take a breakpoint away."""
        self.attempt(self._desk.delete)

    def action_undo(self) -> None:
        """Take the last change back."""
        self.show("" if self._desk.undo() else engineerwording.NOTHING_TO_UNDO)

    def action_save(self) -> None:
        """Ask for a file name."""
        if not self._desk.draft.changed:
            self.show(engineerwording.NOTHING_TO_SAVE)
            return
        suggested = self._workshop.suggested_name(self._desk.draft)
        self.app.push_screen(SaveDialog(suggested), self.save_as)

    def save_as(self, name: str | None) -> None:
        """Write the draft under a name, unless the engineer went back."""
        if not name:
            self.show()
            return
        try:
            path = self._workshop.saved(self._desk.draft, name)
        except StationError as error:
            self.show(f"{error.happened} {error.remedy}")
            return
        self._desk.saved = True
        self.show(engineerwording.saved_line(str(path)))
