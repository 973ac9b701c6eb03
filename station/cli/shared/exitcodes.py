"""Exit codes of the commands."""

from __future__ import annotations

from collections.abc import Iterable
from enum import IntEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # numpy behind it takes longer to import than `station --help` may take
    from station.judging.verdicts.verdict import Verdict


class Exit(IntEnum):
    """What a command's exit code says."""

    PASS = 0
    FAIL = 1
    REFUSED = 2
    VOID = 3
    FAULT = 4


def worst_exit(codes: Iterable[Exit]) -> Exit:
    """Return the code of a batch: refused input before fail, fail before void."""
    order = (Exit.PASS, Exit.VOID, Exit.FAIL, Exit.REFUSED, Exit.FAULT)
    return max(codes, key=order.index, default=Exit.PASS)


def exit_of_verdict(verdict: Verdict) -> Exit:
    """Return the exit code that tells a verdict."""
    return Exit[verdict.name]
