"""The two things that cover the screen for a moment: help, and the question before quitting."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from station.screens.shared import wording


class HelpScreen(ModalScreen[None]):
    """How to work here, and the cautions."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("f1,escape,enter", "close", "Close")]
    DEFAULT_CSS = """
    HelpScreen { align: center middle; }
    HelpScreen > Vertical {
        width: 80; height: auto; max-height: 100%; padding: 0 1;
        background: $station-panel; color: $station-text; border: solid $station-muted;
    }
    """

    def compose(self) -> ComposeResult:
        """Lay out the text."""
        with Vertical() as box:
            box.border_title = wording.HELP_TITLE
            box.border_subtitle = wording.HELP_CLOSE
            yield Static(wording.HELP_TEXT, markup=False)

    def action_close(self) -> None:
        """Go back."""
        self.dismiss()


class QuitQuestion(ModalScreen[bool]):
    """Asks whether to stop the running test and leave."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("y", "answer(True)", "Yes"),
        Binding("n,escape", "answer(False)", "No"),
    ]
    DEFAULT_CSS = """
    QuitQuestion { align: center middle; }
    QuitQuestion > Vertical {
        width: 44; height: auto; padding: 1 2;
        background: $station-panel; color: $station-text; border: solid $station-muted;
    }
    """

    def compose(self) -> ComposeResult:
        """Lay out the question."""
        with Vertical() as box:
            box.border_title = wording.QUIT_TITLE
            yield Static(wording.QUIT_QUESTION, markup=False)

    def action_answer(self, quit_now: bool) -> None:  # noqa: FBT001 - Textual passes it in place
        """Hand the answer back."""
        self.dismiss(quit_now)
