"""Plain tables on the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from tabulate import tabulate

from station.judging.verdicts.verdict import Judgement
from station.judging.words.readingwords import reading_words
from station.judging.words.words import frequency_words, quantity_words


def plain_table(
    headers: Sequence[str],
    rows: Sequence[Sequence[str]],
    widths: Sequence[int | None] | None = None,
) -> str:
    """Return rows under headers, everything as text; words wrap where a width is given."""
    table: str = tabulate(
        rows,
        headers=headers,
        tablefmt="simple",
        disable_numparse=True,
        maxcolwidths=None if widths is None else list(widths),
    )
    return table


def cause_columns(judgement: Judgement) -> tuple[str, str]:
    """Return the first cause and its margin; for a pass, the margin of the response."""
    if judgement.causes:
        cause = judgement.causes[0]
        if cause.side in ("missing", "untrusted"):
            return cause.happened, ""
        where = f" at {frequency_words(cause.at_hz)}" if cause.at_hz is not None else ""
        return f"{reading_words(cause.reading)} {cause.side}{where}", signed(
            cause.margin, cause.unit
        )
    margin = judgement.margins.get("response")
    return "", signed(margin.value, margin.unit) if margin else ""


def signed(value: float, unit: str) -> str:
    """Return a margin with its sign."""
    words = quantity_words(abs(value), unit)
    return f"{'+' if value >= 0.0 else '−'}{words}"
