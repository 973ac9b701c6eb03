"""A form that covers the screen for a moment: a few lines to fill in, by keys alone."""

from __future__ import annotations

from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Static

Answers = tuple[str, ...]


class Line(Input):
    """One line of a form. What was typed ahead into the next line arrives there."""

    async def on_key(self, event: events.Key) -> None:
        """Pass a key on that was typed after Enter, but before the next line had the focus.

        A scanner or a quick typist is faster than the screen: its keys are in this line's queue
        already when Enter moves the focus.
        """
        focused = self.screen.focused
        if focused is not self:
            event.stop()
            event.prevent_default()
            if isinstance(focused, Line):
                typed = events.Key(event.key, event.character)
                typed.set_sender(self.app)
                focused.post_message(typed)
        elif event.key == "enter":
            event.stop()
            event.prevent_default()
            assert isinstance(self.screen, Form)
            self.screen.go_on(self)


class Form(ModalScreen[Answers | None]):
    """Asks for some lines; Enter goes to the next one and at last hands them over, Esc leaves."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "Back")]
    DEFAULT_CSS = """
    Form { align: center middle; }
    Form > Vertical {
        width: 64; height: auto; max-height: 100%; padding: 1 2;
        background: $station-panel; color: $station-text; border: solid $station-muted;
    }
    Form Line { margin: 0 0 1 0; background: $station-ground; color: $station-text; }
    Form Line:focus { background: $station-text; color: $station-dark; }
    """

    def __init__(
        self, title: str, asked: tuple[str, ...], hint: str = "", filled: Answers = ()
    ) -> None:
        super().__init__()
        self._filled = filled or ("",) * len(asked)
        self._title = title
        self._asked = asked
        self._hint = hint

    def compose(self) -> ComposeResult:
        """Lay out a line for each thing that is asked for."""
        with Vertical() as box:
            box.border_title = self._title
            box.border_subtitle = "Enter next   Esc back"
            if self._hint:
                yield Static(self._hint, markup=False)
            for number, words in enumerate(self._asked):
                yield Static(words, markup=False)
                yield Line(self._filled[number], id=f"line-{number}", compact=True)

    def go_on(self, line: Line) -> None:
        """Go to the next line, or hand all of them over."""
        lines = list(self.query(Line))
        place = lines.index(line)
        if place + 1 < len(lines):
            self.set_focus(lines[place + 1])
        else:
            self.dismiss(tuple(one.value.strip() for one in lines))

    def action_leave(self) -> None:
        """Go back without an answer."""
        self.dismiss(None)
