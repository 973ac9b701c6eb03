"""The top row: which station, what is unusual about it, who is at work, and the keys."""

from __future__ import annotations

from collections.abc import Iterator

from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.widgets import Static

from station.screens.shared import wording


class StatusRow(Horizontal):
    """Laid out once; only who is at work changes."""

    def __init__(
        self,
        station_name: str,
        *,
        simulated: bool,
        ears_db_spl: float | None,
        trial: bool,
        operator: str,
        keys: str,
    ) -> None:
        super().__init__(id="top")
        self._station_name = station_name
        self._tags = {
            "simulated": wording.SIMULATED if simulated else "",
            "ears": wording.ears_tag(ears_db_spl),
            "trial": wording.TRIAL_TAG if trial else "",
        }
        self._operator = operator
        self._keys = keys

    def compose(self) -> ComposeResult:
        """Lay out the row; a tag shows only where it is on."""
        yield Static(self._station_name, id="station-name", markup=False)
        yield from self._compose_tags()
        yield Static(self._operator, id="operator", markup=False)
        yield Static(self._keys, id="keys", markup=False)

    def _compose_tags(self) -> Iterator[Static]:
        for name, text in self._tags.items():
            yield Static(text, id=name, classes="-on" if text else "", markup=False)
