"""The questions that cover the engineer's screen for a moment."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from station.screens.engineer import engineerwording

BOX = """
{name} {{ align: center middle; }}
{name} > Vertical {{
    width: 76; height: auto; padding: 0 1;
    background: $station-panel; color: $station-text; border: solid $station-muted;
}}
"""


class SaveDialog(ModalScreen[str]):
    """Asks for the name of a file; nothing if the engineer goes back."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "back", "Back")]
    DEFAULT_CSS = BOX.format(name="SaveDialog")

    def __init__(self, suggested: str) -> None:
        super().__init__()
        self._suggested = suggested

    def compose(self) -> ComposeResult:
        """Lay out the question."""
        with Vertical() as box:
            box.border_title = engineerwording.SAVE_TITLE
            yield Input(self._suggested, id="name", compact=True)
            yield Static(engineerwording.SAVE_HINT, markup=False)

    @on(Input.Submitted, "#name")
    def hand_over(self, event: Input.Submitted) -> None:
        """Hand the name back."""
        self.dismiss(event.value.strip())

    def action_back(self) -> None:
        """Go back without a name."""
        self.dismiss(None)


class LeaveQuestion(ModalScreen[bool]):
    """Asks whether to leave changes that are not saved."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("y", "answer(True)", "Yes"),
        Binding("n,escape", "answer(False)", "No"),
    ]
    DEFAULT_CSS = BOX.format(name="LeaveQuestion")

    def compose(self) -> ComposeResult:
        """Lay out the question."""
        with Vertical() as box:
            box.border_title = engineerwording.LEAVE_TITLE
            yield Static(engineerwording.LEAVE_QUESTION, markup=False)

    def action_answer(self, leave: bool) -> None:  # noqa: FBT001 - Textual passes it in place
        """Hand the answer back."""
        self.dismiss(leave)
