"""The line protocol of fixture and turntable: one line, its number and its check sum.

A line is printable ASCII, 120 bytes at most, ended by a line feed; a carriage return before it is
left out. It is made of words between single spaces; the last one is `*` and eight hexadecimal
digits, the CRC-32 of all bytes before the space in front of it (reflected polynomial 0xEDB88320;
"123456789" gives CBF43926, as in ITU-T V.42 and IEEE 802.3):

    17 CLAMP on *XXXXXXXX

The first word is a number from 1 to 9999 that the station chooses. The device answers every
request it understands with the same number, and `OK` with facts as key=value, or `NO` with why:

    17 OK lid=closed openings=4 clamp=on relays=0 bias=off lock=on unit=T2 presses=1 *XXXXXXXX
    17 NO lid open *XXXXXXXX

The number 0 is for what a device says unasked. A line with another check sum, or with the number
of an earlier request, does not exist: so garbage, halves, late and doubled answers are harmless.
Every request may be repeated without doing anything twice.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass

LONGEST_BYTES = 120
UNASKED = 0
HIGHEST_NUMBER = 9999
CHECKSUM_DIGITS = 8


@dataclass(frozen=True, slots=True)
class Line:
    """A line that arrived whole; `words` are those between its number and its check sum."""

    number: int
    words: tuple[str, ...]


def encoded(line: Line) -> bytes:
    """Return a line as it is sent; raise ValueError if it is no line of this protocol."""
    text = " ".join((str(line.number), *line.words))
    body = text.encode("ascii")
    sent = body + b" *" + checksum(body) + b"\n"
    if not text.isprintable() or len(sent) > LONGEST_BYTES or decoded(sent[:-1]) != line:
        raise ValueError(f"no line of the protocol: {text!r}")
    return sent


def decoded(received: bytes) -> Line | None:
    """Return a line from its bytes without the line feed; None if it did not arrive whole."""
    body, separator, found = received.removesuffix(b"\r").rpartition(b" *")
    if not separator or found != checksum(body) or not body.isascii():
        return None
    number, *words = body.decode("ascii").split(" ")
    if not (number.isascii() and number.isdecimal()) or int(number) > HIGHEST_NUMBER:
        return None
    if not words or "" in words or not all(map(str.isprintable, words)):
        return None
    return Line(int(number), tuple(words))


def checksum(body: bytes) -> bytes:
    """Return the check sum of a line's bytes, as it is written."""
    return f"{zlib.crc32(body):0{CHECKSUM_DIGITS}X}".encode("ascii")
