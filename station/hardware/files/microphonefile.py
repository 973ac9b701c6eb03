"""A microphone's correction file: how it departs from the ideal, as its certificate states it.

Plain text, one frequency a line: Hz, dB and, if the certificate has it, degrees, as numbers with
a decimal point between spaces, tabs or commas. Lines that begin with # or * are remarks. The
numbers are the microphone's own response; they are taken out of what it measured.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from station.tomlfiles.loading import refused, text_of_file

REMARKS = ("#", "*")
BETWEEN = re.compile(r"[ \t]*,[ \t]*|[ \t]+")
COLUMNS = (2, 3)


@dataclass(frozen=True, slots=True)
class MicrophoneCorrection:
    """The response of a microphone at rising frequencies; phases are zero where none is given."""

    frequency_hz: tuple[float, ...]
    level_db: tuple[float, ...]
    phase_deg: tuple[float, ...]


def microphone_correction(path: Path) -> MicrophoneCorrection:
    """Return the contents of a correction file.

    Raises
    ------
    TextFileError
        If it cannot be read or has faults, each of them at file:line.
    """
    faults: list[str] = []
    rows: list[tuple[float, ...]] = []
    for number, line in numbered_lines(text_of_file(path)):
        row = numbers_of(line)
        fault = fault_of_row(row, line, rows)
        if fault:
            faults.append(f"{path}:{number}: {fault}")
        if row is not None:
            rows.append(row)
    if not rows and not faults:
        faults.append(f"{path}:1: there is no line with a frequency and a level")
    if faults:
        raise refused(str(path), tuple(faults))
    return MicrophoneCorrection(
        tuple(row[0] for row in rows),
        tuple(row[1] for row in rows),
        tuple(row[2] if len(row) == max(COLUMNS) else 0.0 for row in rows),
    )


def numbered_lines(text: str) -> Iterator[tuple[int, str]]:
    """Yield the lines that hold something, counted from 1."""
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip() and not line.lstrip().startswith(REMARKS):
            yield number, line.strip()


def numbers_of(line: str) -> tuple[float, ...] | None:
    """Return the numbers of a line, None if it is no row of two or three of them."""
    parts = BETWEEN.split(line)
    try:
        row = tuple(float(part) for part in parts)
    except ValueError:
        return None
    return row if len(row) in COLUMNS and all(map(math.isfinite, row)) else None


def fault_of_row(
    row: tuple[float, ...] | None, line: str, before: list[tuple[float, ...]]
) -> str | None:
    """Return what is wrong with a row after those before it, None if nothing is."""
    if row is None:
        return f"need two or three numbers (Hz, dB, degrees), here {line!r}"
    if row[0] <= 0.0:
        return f"the frequency {row[0]:g} Hz is not above zero"
    if before and row[0] <= before[-1][0]:
        return f"the frequency {row[0]:g} Hz does not rise above {before[-1][0]:g} Hz"
    if before and len(row) != len(before[-1]):
        return "some lines have a phase, others have none"
    return None
