"""Tables of text for the studies."""

from __future__ import annotations

import math
from collections.abc import Sequence


def table(title: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table with its title and columns as wide as they must be."""
    widths = [max(len(row[place]) for row in (head, *rows)) for place in range(len(head))]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in (head, ["-" * width for width in widths], *rows)
    ]
    return "\n".join([title, *lines, ""])


def hertz(frequency_hz: float) -> str:
    """Return a frequency as the trade writes it, a dash for none."""
    if math.isnan(frequency_hz):
        return "-"
    return f"{frequency_hz / 1e3:.3g} kHz" if frequency_hz >= 1e3 else f"{frequency_hz:.3g} Hz"
