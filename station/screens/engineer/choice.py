"""The first view of the engineer's program: which model, which period."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.message import Message
from textual.screen import Screen
from textual.widgets import OptionList, Static

from station.records.summaries.runlist import Period
from station.screens.engineer import engineerwording

PERIODS = (("everything", None), ("last 30 days", 30), ("last 7 days", 7), ("last 24 hours", 1))


class ChoiceScreen(Screen[None]):
    """Lists models and periods; Enter opens the chosen ones."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("tab", "other", "Other list", priority=True)]

    @dataclass
    class Wanted(Message):
        """A model's runs of a period are to be looked at."""

        model: str
        period: Period

    def __init__(self, models: tuple[str, ...], now_utc: datetime) -> None:
        super().__init__()
        self._models = models
        self._now_utc = now_utc

    def compose(self) -> ComposeResult:
        """Lay out the lists."""
        yield Static(engineerwording.CHOICE_TITLE, classes="line strong", markup=False)
        with Horizontal(id="lists"):
            with Vertical():
                yield Static(engineerwording.MODELS_TITLE, markup=False)
                yield OptionList(*self._models, id="models", markup=False)
            with Vertical():
                yield Static(engineerwording.PERIODS_TITLE, markup=False)
                yield OptionList(*(name for name, _ in PERIODS), id="periods", markup=False)
        yield Static("", id="message", classes="line message", markup=False)
        yield Static(engineerwording.CHOICE_KEYS, classes="keys", markup=False)

    def on_mount(self) -> None:
        """Choose the first of each."""
        for name in ("models", "periods"):
            options = self.query_one(f"#{name}", OptionList)
            options.highlighted = 0 if options.option_count else None
        self.query_one("#models").focus()
        self.tell("" if self._models else engineerwording.NO_MODELS)

    def tell(self, words: str) -> None:
        """Show a sentence, or none."""
        self.query_one("#message", Static).update(words)
        self.query_one("#message").set_class(bool(words), "-on")

    @on(OptionList.OptionSelected)
    def open_chosen(self) -> None:
        """Ask for what is chosen in both lists."""
        model = self.query_one("#models", OptionList).highlighted
        period = self.query_one("#periods", OptionList).highlighted
        if model is None or period is None:
            return
        days = PERIODS[period][1]
        since = None if days is None else self._now_utc - timedelta(days=days)
        self.post_message(self.Wanted(self._models[model], Period(since)))

    def action_other(self) -> None:
        """Go to the other list."""
        self.query_one("#periods" if self.query_one("#models").has_focus else "#models").focus()
