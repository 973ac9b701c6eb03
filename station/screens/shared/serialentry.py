"""What a scanner may send: a serial number, cleaned, or a refusal."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable

from textual import events
from textual.widgets import Input

from station.errors import UnknownSerialError
from station.screens.shared import wording

SUFFIX_KEYS = ("enter", "ctrl+j", "tab")
LONGEST_SERIAL_CHARACTERS = 64
REPLACEMENT = "\ufffd"  # what a decoder leaves where bytes made no sense


def cleaned_serial(scanned: str) -> str:
    """Return a scanned text without control characters and spaces at its ends; it may be empty.

    Scanners add tabs, line ends or group separators. What cannot be printed inside the text, or
    a text no label has room for, is refused: a guess at a serial number tests the wrong unit.
    """
    first, last = 0, len(scanned)
    while first < last and is_padding(scanned[first]):
        first += 1
    while last > first and is_padding(scanned[last - 1]):
        last -= 1
    kept = scanned[first:last]
    if len(kept) > LONGEST_SERIAL_CHARACTERS:
        raise UnknownSerialError(wording.LONG_SERIAL_HAPPENED, wording.SERIAL_REMEDY)
    if not kept.isprintable() or REPLACEMENT in kept:
        raise UnknownSerialError(wording.NO_SERIAL_HAPPENED, wording.SERIAL_REMEDY)
    return kept


def is_padding(character: str) -> bool:
    """Return whether a character at an end of a scan is no part of the serial number."""
    return character.isspace() or unicodedata.category(character) == "Cc"


class SerialEntry(Input):
    """Where a scanner types, with Enter, line feed or Tab as its suffix."""

    async def on_key(self, event: events.Key) -> None:
        """Hand the text over at its suffix, and be empty for the next one.

        A binding would come too late: it is looked up on the way back from the whole program,
        while the next serial number is already being typed behind this one.
        """
        if event.key in SUFFIX_KEYS:
            event.stop()
            event.prevent_default()
            await self.action_submit()
            self.clear()

    def open_for(self, prompt: str) -> None:
        """Be ready for a label, empty of what a burst may have left."""
        self.clear()
        self.placeholder = prompt
        self.disabled = False
        self.focus()

    def close_for(self, why: str) -> None:
        """Take no label, and say why."""
        self.disabled = True
        self.placeholder = why

    def offer(self, label: Callable[[], str]) -> None:
        """Type a label for the operator, unless something is typed already; Enter stays theirs."""
        if not self.value:
            self.value = label()
            self.action_end()
