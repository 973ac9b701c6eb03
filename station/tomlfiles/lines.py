"""At which line each key and array element of a TOML text stands."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

Place = tuple[int | str, ...]

KEY = re.compile(r"""\s*("(?:[^"\\]|\\.)*"|'[^']*'|[A-Za-z0-9_-]+)\s*""")
BLANK = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
BARE = re.compile(r"[^,\]}#\n]+")
STRINGS = (
    re.compile(r'"""(?:[^\\]|\\.)*?"""', re.DOTALL),
    re.compile(r"'''.*?'''", re.DOTALL),
    re.compile(r'"(?:[^"\\\n]|\\.)*"'),
    re.compile(r"'[^'\n]*'"),
)


def lines_of_toml(text: str) -> dict[Place, int]:
    """Return the line, counted from 1, of every key and array element of a valid TOML text."""
    return LineFinder(text).found()


def line_of(lines: dict[Place, int], place: Place) -> int:
    """Return the line of a place, or of the nearest table or key that holds it."""
    for length in range(len(place), 0, -1):
        if place[:length] in lines:
            return lines[place[:length]]
    return 1


@dataclass
class LineFinder:
    """Walks a TOML text that tomllib has already accepted."""

    text: str
    at: int = 0
    lines: dict[Place, int] = field(default_factory=dict)
    tables: dict[Place, int] = field(default_factory=dict)

    def found(self) -> dict[Place, int]:
        """Walk the whole text and return the lines."""
        table: Place = ()
        self._blank()
        while self.at < len(self.text):
            if self.text.startswith("[", self.at):
                table = self._header()
            else:
                self._pair(table)
            self._blank()
        return self.lines

    def _line(self) -> int:
        return self.text.count("\n", 0, self.at) + 1

    def _blank(self) -> None:
        match = BLANK.match(self.text, self.at)
        self.at = match.end() if match else self.at

    def _keys(self) -> tuple[str, ...]:
        keys: list[str] = []
        while match := KEY.match(self.text, self.at):
            keys.append(match.group(1).strip("\"'"))
            self.at = match.end()
            if not self.text.startswith(".", self.at):
                break
            self.at += 1
        return tuple(keys)

    def _header(self) -> Place:
        line = self._line()
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        keys = self._keys()
        self.at += 2 if many else 1
        table: Place = ()
        for depth, key in enumerate(keys, start=1):
            table = (*table, key)
            if many and depth == len(keys):
                self.tables[table] = self.tables.get(table, -1) + 1
            self.lines.setdefault(table, line)
            if table in self.tables:
                table = (*table, self.tables[table])
        self.lines.setdefault(table, line)
        return table

    def _pair(self, table: Place) -> None:
        line = self._line()
        place = table
        for key in self._keys():
            place = (*place, key)
            self.lines.setdefault(place, line)
        self._blank()
        self.at += 1  # the equals sign
        self._value(place)

    def _value(self, place: Place) -> None:
        self._blank()
        self.lines.setdefault(place, self._line())
        if self.text.startswith("[", self.at):
            self._elements(place, "]")
        elif self.text.startswith("{", self.at):
            self._elements(place, "}")
        else:
            for pattern in (*STRINGS, BARE):
                if match := pattern.match(self.text, self.at):
                    self.at = match.end()
                    return

    def _elements(self, place: Place, closing: str) -> None:
        self.at += 1
        index = 0
        self._blank()
        while not self.text.startswith(closing, self.at):
            if closing == "]":
                self._value((*place, index))
            else:
                self._pair(place)
            index += 1
            self._blank()
            if self.text.startswith(",", self.at):
                self.at += 1
                self._blank()
        self.at += 1
