"""Texts and files changed at random, as typing, editors and disks do it; the same for each seed."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?")
WORD = re.compile(r"[A-Za-z_]{3,}")
# What is put in a number's or a word's place.
ODD_VALUES = (
    "0", "-1", "1", "0.0", "-0.0", "1e308", "-1e308", "1e-308", "nan", "inf", "-inf", "1e9",
    "100000000000000000000", "true", "false", '""', '"x"', "[]", "{}", "[[]]", "[1, 2]",
    "1979-05-27", "0x7f", '"\\u0000"', '"' + "y" * 5000 + '"', "[" * 60 + "]" * 60, "0.5", "2",
)  # fmt: skip
ODD_CHARACTERS = "\x00\x01\t\r\n\"'#=[]{}.,_é€😀\u202e\ufeff"


def changed_text(random_: random.Random, text: str) -> str:
    """Return a text with one to three changes."""
    for _ in range(random_.randint(1, 3)):
        text = random_.choice(TEXT_CHANGES)(random_, text)
    return text


def other_number(random_: random.Random, text: str) -> str:
    """Put something else in the place of a number."""
    return replaced(random_, text, NUMBER, random_.choice(ODD_VALUES))


def scaled_number(random_: random.Random, text: str) -> str:
    """Change a number by some factor, as when a digit or a point is missed."""
    found = list(NUMBER.finditer(text))
    if not found:
        return text
    one = random_.choice(found)
    value = float(one[0]) * random_.choice((-1.0, 0.1, 0.5, 0.99, 1.01, 2.0, 10.0, 1000.0))
    return text[: one.start()] + repr(value) + text[one.end() :]


def other_word(random_: random.Random, text: str) -> str:
    """Put another word of the text, or something odd, in the place of a word."""
    words = WORD.findall(text) or ["x"]
    return replaced(random_, text, WORD, random_.choice((random_.choice(words), "", "x y", '"')))


def replaced(random_: random.Random, text: str, what: re.Pattern[str], by: str) -> str:
    """Replace one of the places that fit."""
    found = list(what.finditer(text))
    if not found:
        return text
    one = random_.choice(found)
    return text[: one.start()] + by + text[one.end() :]


def moved_line(random_: random.Random, text: str) -> str:
    """Delete a line, put it elsewhere, or put a copy of it elsewhere."""
    lines = text.split("\n")
    place = random_.randrange(len(lines))
    line = lines[place]
    how = random_.randrange(3)
    if how < 2:
        del lines[place]
    if how > 0:
        lines.insert(random_.randint(0, len(lines)), line)
    return "\n".join(lines)


def other_character(random_: random.Random, text: str) -> str:
    """Insert, delete or exchange a character."""
    place = random_.randrange(len(text) + 1)
    new = random_.choice(("", random_.choice(ODD_CHARACTERS), chr(random_.randrange(32, 127))))
    return text[:place] + new + text[place + random_.randint(0, 1) :]


def cut_text(random_: random.Random, text: str) -> str:
    """Cut the end off."""
    return text[: random_.randrange(len(text) + 1)]


TEXT_CHANGES: tuple[Callable[[random.Random, str], str], ...] = (
    other_number, other_number, scaled_number, scaled_number, other_word, other_word,
    moved_line, moved_line, other_character, cut_text,
)  # fmt: skip


def changed_bytes(random_: random.Random, contents: bytes) -> bytes:
    """Return a file with some bytes changed, in its head as often as anywhere, or cut, or torn."""
    changed = bytearray(contents)
    how = random_.randrange(6)
    if how < 3:
        end = min(400, len(changed)) if random_.random() < 0.5 else len(changed)
        for _ in range(random_.randint(1, 20)):
            changed[random_.randrange(end)] = random_.randrange(256)
    elif how == 3:
        del changed[random_.randrange(len(changed)) :]
    elif how == 4:
        start = random_.randrange(len(changed))
        changed[start : start + 4096] = bytes(len(changed[start : start + 4096]))
    else:
        start, other = random_.randrange(len(changed)), random_.randrange(len(changed))
        changed[start:start] = changed[other : other + random_.randint(1, 5000)]
    return bytes(changed)
