"""The technician's program: the screen, the keys that leave it, and the signals that end it."""

from __future__ import annotations

import asyncio

from textual.app import App

from station.screens.line.app import ENDING_SIGNALS
from station.screens.shared import palette
from station.screens.shared.dialogs import QuitQuestion
from station.screens.technician.screen import TechnicianScreen


class TechnicianApp(App[None]):
    """One bench, one technician, no mouse: run it with `run(mouse=False)`."""

    CSS_PATH = "app.tcss"
    ENABLE_COMMAND_PALETTE = False
    TITLE = "Service"
    # Not ClassVar, because Textual declares them otherwise.
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (110, "-wide")]  # noqa: RUF012
    VERTICAL_BREAKPOINTS = [(0, "-low"), (32, "-high")]  # noqa: RUF012

    def __init__(self, screen: TechnicianScreen) -> None:
        super().__init__()
        self.technician_screen = screen

    def get_default_screen(self) -> TechnicianScreen:
        """Return the screen that is always there."""
        return self.technician_screen

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Return our colours for the style sheets."""
        return palette.css_variables()

    def on_mount(self) -> None:
        """Take over the signals that would end the program at once and lose the run."""
        loop = asyncio.get_running_loop()
        for number in ENDING_SIGNALS:
            loop.add_signal_handler(number, self.call_later, self.technician_screen.leave)

    def on_unmount(self) -> None:
        """Give the signals back."""
        loop = asyncio.get_running_loop()
        for number in ENDING_SIGNALS:
            loop.remove_signal_handler(number)

    async def action_quit(self) -> None:
        """Leave, but ask first while a test runs."""
        if not self.technician_screen.working:
            self.exit()
        elif not isinstance(self.screen, QuitQuestion):
            self.push_screen(QuitQuestion(), self.answer_quit)

    def answer_quit(self, quit_now: bool | None) -> None:  # noqa: FBT001 - Textual passes it in place
        """Leave if the technician said so."""
        if quit_now:
            self.technician_screen.leave()
