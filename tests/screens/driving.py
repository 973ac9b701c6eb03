"""How tests drive the screen and read it: keys in, plain text out."""

from __future__ import annotations

import asyncio
import contextlib
import threading

from textual import events
from textual.pilot import Pilot
from textual.widgets import Input
from textual.worker import WorkerFailed

from station.screens.line.app import OperatorApp
from station.screens.line.verdictpanel import VerdictPanel
from tests.screens.fakecycle import PATIENCE_S, FakeCycle


class Operator:
    """An operator at a running screen."""

    def __init__(self, pilot: Pilot[None]) -> None:
        self.pilot = pilot
        assert isinstance(pilot.app, OperatorApp)
        self.app: OperatorApp = pilot.app

    async def scan(self, text: str, suffix: str = "enter") -> None:
        """Type as a scanner does, faster than the screen can react; a line end is the suffix."""
        for character in f"{text}\n":
            typed = character != "\n"
            event = events.Key(character if typed else suffix, character if typed else None)
            event.set_sender(self.app)
            self.app.post_message(event)
        await self.pilot.pause()

    async def settle(self) -> None:
        """Let every worker end and every message arrive."""
        await self.pilot.pause()
        while list(self.app.workers):
            with contextlib.suppress(WorkerFailed):  # the screen's own handler is looked at
                await self.app.workers.wait_for_complete()
            await self.pilot.pause()

    async def test(self, serial: str) -> None:
        """Scan a unit and wait for the answer."""
        await self.scan(serial)
        await self.settle()

    async def until_running(self, cycle: FakeCycle) -> None:
        """Wait until the cycle is in the middle of a test, and all it said has been shown."""
        await self.until(cycle.running)

    async def until(self, event: threading.Event) -> None:
        """Wait until the cycle has come this far, and all it said has been shown."""
        assert await asyncio.to_thread(event.wait, PATIENCE_S)
        await self.pilot.pause()

    @property
    def lines(self) -> list[str]:
        """The screen as plain text."""
        strips = self.app.screen._compositor.render_strips()
        return [strip.text.rstrip() for strip in strips]

    @property
    def text(self) -> str:
        """The screen as plain text, in one."""
        return "\n".join(self.lines)

    @property
    def word(self) -> str:
        """The big word."""
        return self.app.operator_screen.query_one(VerdictPanel).outcome.word

    @property
    def entry(self) -> Input:
        """Where serial numbers are typed."""
        return self.app.operator_screen.query_one("#serial", Input)
