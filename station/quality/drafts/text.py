"""Change some limits in the text of a limit file, and leave everything else as it was written.

A limit file is a person's text, with comments. Only the lines that hold changed values are
written anew, and the comment that stands above a changed limit, because it told of the old one.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from station.errors import RefusedInputError

HEADER = re.compile(r"\s*\[\[?\s*([A-Za-z_][\w.-]*)\s*\]\]?\s*(#.*)?$")
KEY = re.compile(r"\s*([A-Za-z_][\w-]*)\s*=")


@dataclass(frozen=True, slots=True)
class Part:
    """One table as it is written: the comment lines above it, its header, what follows."""

    name: str
    above: tuple[str, ...]
    lines: tuple[str, ...]  # the header is the first, but in what stands before all tables


@dataclass(frozen=True, slots=True)
class Change:
    """New values of one table's keys, as TOML; a comment in place of the one above it."""

    values: Mapping[str, str]
    comment: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True)
class Changes:
    """What to change: tables by name, and arrays of tables by name and place; tables to add."""

    tables: Mapping[str, Change] = field(default_factory=dict)
    entries: Mapping[tuple[str, int], Change] = field(default_factory=dict)
    added: tuple[str, ...] = ()


def changed_text(text: str, changes: Changes) -> str:
    """Return a limit file's text with some values changed.

    Raises
    ------
    RefusedInputError
        If a table to be changed has no header of its own.
    """
    written: list[str] = []
    seen: dict[str, int] = {}
    left: dict[Any, Change] = {**changes.tables, **changes.entries}
    for part in parts_of(text):
        place = seen.get(part.name, 0)
        seen[part.name] = place + 1
        change = left.pop(part.name, None) or left.pop((part.name, place), None)
        kept = part if change is None else changed_part(part, change)
        written += [*kept.above, *kept.lines]
    if left:
        name = next(iter(left))
        table = name if isinstance(name, str) else name[0]
        raise RefusedInputError(
            f"The limit file has no [{table}] under a header of its own that could be changed.",
            "Write each table under a header, as the shipped limit files do.",
        )
    for table in changes.added:
        written += ["", *table.rstrip("\n").split("\n")]
    return "\n".join(written).rstrip("\n") + "\n"


def parts_of(text: str) -> list[Part]:
    """Return a limit file's text table by table; joined they are the text again."""
    parts: list[Part] = [Part("", (), ())]
    waiting: list[str] = []  # comments and blank lines whose table is not known yet
    depth = 0  # inside an array a line may look like a header
    for line in text.rstrip("\n").split("\n"):
        header = HEADER.match(line) if depth == 0 else None
        depth += brackets(line) if header is None else 0
        if header is not None:
            own = comments_at_end(waiting)
            parts[-1] = with_lines(parts[-1], waiting[: len(waiting) - len(own)])
            parts.append(Part(header[1], tuple(own), (line,)))
            waiting = []
        elif depth == 0 and (not line.strip() or line.lstrip().startswith("#")):
            waiting.append(line)
        else:
            parts[-1] = with_lines(parts[-1], [*waiting, line])
            waiting = []
    parts[-1] = with_lines(parts[-1], waiting)
    return parts


def with_lines(part: Part, lines: Sequence[str]) -> Part:
    """Return a part with some more lines."""
    return replace(part, lines=(*part.lines, *lines))


def comments_at_end(lines: Sequence[str]) -> list[str]:
    """Return the comment lines that stand right above a header."""
    count = 0
    while count < len(lines) and lines[-1 - count].lstrip().startswith("#"):
        count += 1
    return list(lines[len(lines) - count :])


def brackets(line: str) -> int:
    """Return how many more brackets open than close in a line, strings and comments left out."""
    bare = re.sub(r'"(?:\\.|[^"\\])*"|\'[^\']*\'', "", line).split("#")[0]
    return bare.count("[") - bare.count("]")


def changed_part(part: Part, change: Change) -> Part:
    """Return a table with some keys changed, added at its end where they were not there."""
    written: list[str] = []
    left = dict(change.values)
    lines = list(part.lines)
    while lines:
        line = lines.pop(0)
        key = KEY.match(line)
        whole = [line]
        depth = brackets(line) if key else 0
        while depth > 0:
            whole.append(lines.pop(0))
            depth += brackets(whole[-1])
        if key and key[1] in left:
            whole = f"{key[1]} = {left.pop(key[1])}".split("\n")
        written += whole
    end = last_key(written)
    written[end:end] = [
        new for name, value in left.items() for new in f"{name} = {value}".split("\n")
    ]
    above = part.above if change.comment is None else change.comment
    return replace(part, above=tuple(above), lines=tuple(written))


def last_key(lines: Sequence[str]) -> int:
    """Return how many lines there are without the blank lines and comments at the end."""
    end = len(lines)
    while end > 0 and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
        end -= 1
    return end


def points_toml(points: Sequence[tuple[float, float, float]]) -> str:
    """Return breakpoints as TOML, one to a line."""
    rows = (", ".join(number_toml(value) for value in point) for point in points)
    return "[\n" + "".join(f"    [{row}],\n" for row in rows) + "]"


def number_toml(value: float) -> str:
    """Return a number as TOML."""
    if math.isinf(value):
        return "inf" if value > 0.0 else "-inf"
    return f"{value:.10g}"


def text_toml(words: str) -> str:
    """Return words as a TOML string."""
    escaped = words.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in escaped) + '"'
