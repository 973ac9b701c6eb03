"""Kill the whole cycle at random instants: `python -m tests.studies.killed [KILLS]`.

Each child opens the log as the station does, tests units and is killed with its whole group after
a random time, which may hit the opening, an analysis, the writing of a recording or a commit.
"""

from __future__ import annotations

import random
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.studies.underfire import (
    SERIALS_PER_CHILD,
    Balance,
    PlayedBack,
    Shown,
    balance,
    good_unit,
    outcome,
)

SEED = 20261125
KILLS = 1000


@dataclass(frozen=True, slots=True)
class Killed:
    """What all the kills came to."""

    kills: int
    shown: int
    before_open: int  # kills that hit the opening of the log
    balance: Balance


def killed(folder: Path, kills: int, seed: int) -> Killed:
    """Kill a child so often, and return what became of what was shown."""
    logs = folder / "logs"
    audio = good_unit(folder / "first")
    span_s = usual_s(folder / "usual", audio)
    random_s = random.Random(seed)
    shown: list[Shown] = []
    for kill in range(kills):
        first = 1 + kill * SERIALS_PER_CHILD
        shown.append(outcome(logs, audio, first, kill_after_s=random_s.uniform(0.0, span_s)))
    return Killed(
        kills,
        sum(len(one.runs) for one in shown),
        sum(not one.opened for one in shown),
        balance(logs, shown),
    )


def usual_s(logs: Path, audio: PlayedBack) -> float:
    """Return how long a child takes to open a log and test three units."""
    start_s = time.monotonic()
    outcome(logs, audio, 1, kill_after_s=None, units=3)
    return time.monotonic() - start_s


def main() -> None:
    """Print what became of everything that was shown."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else KILLS
    with TemporaryDirectory() as folder:
        found = killed(Path(folder), kills, SEED)
    print(
        f"{found.kills} kills, {found.before_open} of them before the log was open; "
        f"{found.shown} results shown, {found.balance.stored} runs stored"
    )
    print(
        f"shown but lost {found.balance.lost}, half-written {found.balance.half_written}, "
        f"double {found.balance.double}, broken: {found.balance.broken or 'nothing'}"
    )


if __name__ == "__main__":
    main()
