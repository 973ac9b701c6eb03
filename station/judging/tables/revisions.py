"""Which revision a unit was built to: by its serial number, which is given when it is built.

Serial numbers are compared as people read them: runs of digits as numbers, all else as letters.
A serial pattern may name the part that grows with production `built`, such as year and week in
`T2A-(?P<built>[0-9]{4})-[0-9]{4}`; without it the whole serial number counts. A limit file's
`holds_from` is such a part or serial number: its revision holds from there on, to where the next
revision's begins. A file without it holds from the first unit.
"""

from __future__ import annotations

import re

BUILT = "built"
Step = tuple[int, int, str]
DIGITS = "0123456789"
PIECES = re.compile(r"[0-9]+|[^0-9]+")


def place_in_production(pattern: str, serial: str) -> tuple[Step, ...] | None:
    """Return where in the production a serial number stands, to be compared; None if not claimed.

    `pattern` is that of the limit file.
    """
    found = re.fullmatch(pattern, serial)
    if found is None:
        return None
    return place_of(found.groupdict().get(BUILT) or serial)


def place_of(text: str) -> tuple[Step, ...]:
    """Return a part of a serial number to be compared."""
    return tuple(map(step_of, PIECES.findall(text)))


def step_of(piece: str) -> Step:
    """Return a run of digits, which the longer number follows, or a run of anything else."""
    if piece[0] not in DIGITS:
        return (0, 0, piece)
    number = piece.lstrip("0")
    return (1, len(number), number)


def start_of(holds_from: str | None) -> tuple[Step, ...]:
    """Return where a revision begins; the first one comes before everything."""
    return () if holds_from is None else place_of(holds_from)


def holds_for(pattern: str, holds_from: str | None, serial: str) -> bool:
    """Return whether a revision had begun when the unit of a serial number was built."""
    place = place_in_production(pattern, serial)
    return place is not None and start_of(holds_from) <= place


def fault_of_start(pattern: str, holds_from: str) -> str | None:
    """Return why a start cannot be compared with the serial numbers of a pattern."""
    if BUILT in re.compile(pattern).groupindex or re.fullmatch(pattern, holds_from):
        return None
    return f"{holds_from!r} is no serial number of this model, and the pattern names no 'built'"
