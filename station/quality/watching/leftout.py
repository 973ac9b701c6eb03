"""How many runs are no production, in one sentence and as an object.

The sentence has gaps: what translates it has all its parts from `every_part`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict

from station.records.log.production import LeftOut

LEFT_OUT = "Left out, being no production: {runs}."
REASONS: Mapping[str, tuple[str, str]] = {  # of one run, and of several
    "service": ("{count} run in service", "{count} runs in service"),
    "gauge": ("{count} run of gauge studies", "{count} runs of gauge studies"),
    "check": ("{count} run of reference units", "{count} runs of reference units"),
    "trials": ("{count} run on trial", "{count} runs on trial"),
}


def as_written(message: str) -> str:
    """Return the program's own English."""
    return message


def left_out_sentence(left: LeftOut, tell: Callable[[str], str] = as_written) -> str:
    """Return how many runs were left out and why; nothing where none was."""
    counts = left_out_as_object(left)
    told = [
        tell(one if counts[reason] == 1 else several).format(count=counts[reason])
        for reason, (one, several) in REASONS.items()
        if counts[reason]
    ]
    return tell(LEFT_OUT).format(runs=", ".join(told)) if told else ""


def left_out_as_object(left: LeftOut) -> dict[str, int]:
    """Return the counts by name."""
    return asdict(left)


def every_part() -> Iterator[str]:
    """Yield what a translation has to have."""
    yield LEFT_OUT
    for words in REASONS.values():
        yield from words
