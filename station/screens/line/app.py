"""The operator's program: the screen, the keys that leave it, and the signals that end it."""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Callable
from typing import ClassVar

from textual.app import App
from textual.binding import Binding, BindingType

from station.hardware.protocols.fixture import Scanner
from station.screens.line.ports import Cycle, Desk
from station.screens.line.screen import OperatorScreen
from station.screens.shared import palette
from station.screens.shared.dialogs import QuitQuestion

ENDING_SIGNALS = (signal.SIGHUP, signal.SIGTERM)  # terminal closed, asked to end


class OperatorApp(App[None]):
    """One station, one operator, no mouse: run it with `run(mouse=False)`.

    However it ends (Ctrl+Q, a closed terminal, SIGTERM), a running test is stopped first, and the
    program waits until the cycle has returned.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f8", "all_off", "All off", priority=True),  # whatever covers the screen
    ]
    CSS_PATH = "app.tcss"
    ENABLE_COMMAND_PALETTE = False
    TITLE = "Station"
    # Not ClassVar, because Textual declares them otherwise.
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (110, "-wide")]  # noqa: RUF012
    VERTICAL_BREAKPOINTS = [(0, "-tiny"), (20, "-low"), (32, "-high"), (48, "-tall")]  # noqa: RUF012

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
        self.operator_screen = OperatorScreen(
            cycle,
            station_name=station_name,
            simulated=simulated,
            on_fault=on_fault,
            next_unit=next_unit,
            scanner=scanner,
            ears_db_spl=ears_db_spl,
            desk=desk,
            trial=trial,
        )

    def get_default_screen(self) -> OperatorScreen:
        """Return the screen that is always there."""
        return self.operator_screen

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Return our colours for the style sheets."""
        return palette.css_variables()

    def on_mount(self) -> None:
        """Take over the signals that would end the program at once and lose the run."""
        loop = asyncio.get_running_loop()
        for number in ENDING_SIGNALS:
            loop.add_signal_handler(number, self.call_later, self.operator_screen.leave)

    def on_unmount(self) -> None:
        """Give the signals back."""
        loop = asyncio.get_running_loop()
        for number in ENDING_SIGNALS:
            loop.remove_signal_handler(number)

    def action_all_off(self) -> None:
        """Switch everything off, or go on after that."""
        self.operator_screen.action_all_off()

    async def action_quit(self) -> None:
        """Leave, but ask first while a test runs."""
        if not self.operator_screen.testing:
            self.exit()
        elif not isinstance(self.screen, QuitQuestion):
            self.push_screen(QuitQuestion(), self.answer_quit)

    def answer_quit(self, quit_now: bool | None) -> None:  # noqa: FBT001 - Textual passes it in place
        """Leave if the operator said so."""
        if quit_now:
            self.operator_screen.leave()
