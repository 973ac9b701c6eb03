"""Let the disk fill up under the cycle: `python -m tests.studies.fulldisk [ROUNDS]`.

As root the logs lie on a small disk in memory, which a ballast fills but for a random rest before
each round. Without the right to mount, a limit on the size of files stands for the full disk.
"""

from __future__ import annotations

import os
import random
import resource
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
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
ROUNDS = 60
UNITS = 4
DISK_BYTES = 400_000_000
MOST_FREE_BYTES = 4_000_000  # some three recordings
BLOCK = b"\0" * 65536


@dataclass(frozen=True, slots=True)
class Filled:
    """What all the rounds came to."""

    rounds: int
    shown: int
    refused: int  # tests that ended with a sentence about the disk
    other_errors: tuple[str, ...]
    balance: Balance


def can_mount() -> bool:
    """Return whether a disk in memory can be mounted here."""
    with TemporaryDirectory() as folder:
        if not mounted(Path(folder), 1_000_000):
            return False
        subprocess.run(["umount", folder], check=True)
        return True


def mounted(folder: Path, size_bytes: int) -> bool:
    """Mount a disk in memory; return False without the right to."""
    command = ["mount", "-t", "tmpfs", "-o", f"size={size_bytes}", "tmpfs", str(folder)]
    if os.geteuid() != 0:
        return False
    return subprocess.run(command, check=False, capture_output=True).returncode == 0


@contextmanager
def small_disk(folder: Path) -> Iterator[Path]:
    """Hold a small disk at a folder."""
    folder.mkdir()
    if not mounted(folder, DISK_BYTES):
        raise OSError("no disk can be mounted here")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def fill(disk: Path, free_bytes: int) -> Path:
    """Fill a disk but for some bytes, and return the ballast."""
    ballast = disk / "ballast"
    with ballast.open("wb") as file:
        facts = os.statvfs(disk)
        left = facts.f_bavail * facts.f_frsize - free_bytes
        os.posix_fallocate(file.fileno(), 0, max(left, 1))
    return ballast


def filled(folder: Path, rounds: int, seed: int) -> Filled:
    """Let a mounted disk fill up so often."""
    audio = good_unit(folder / "first")
    random_ = random.Random(seed)
    shown = []
    with small_disk(folder / "disk") as disk:
        logs = disk / "logs"
        outcome(logs, audio, 1, kill_after_s=None, units=1)  # a log is there
        for number in range(1, rounds + 1):
            ballast = fill(disk, random_.randrange(MOST_FREE_BYTES))
            first = 1 + number * SERIALS_PER_CHILD
            shown.append(outcome(logs, audio, first, kill_after_s=None, units=UNITS))
            ballast.unlink()
        return filled_of(shown, balance(logs, shown))


def limited(folder: Path, rounds: int, seed: int) -> Filled:
    """Let files grow to a random size only, as often."""
    audio = good_unit(folder / "first")
    random_ = random.Random(seed)
    logs = folder / "logs"
    shown = [limited_once(logs, audio, number, random_) for number in range(rounds)]
    return filled_of(shown, balance(logs, shown))


def limited_once(logs: Path, audio: PlayedBack, number: int, random_: random.Random) -> Shown:
    """Run one child whose files may not grow beyond a random size."""
    size = 4096 * random_.randrange(1, 400)

    def limit() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))

    first = 1 + number * SERIALS_PER_CHILD
    return outcome(logs, audio, first, kill_after_s=None, units=UNITS, harm=limit)


def filled_of(shown: list[Shown], found: Balance) -> Filled:
    """Return what all the rounds came to."""
    errors = [error for one in shown for error in one.errors]
    disk = [error for error in errors if "disk" in error.lower() or "space" in error.lower()]
    others = tuple(sorted(set(errors) - set(disk)))
    return Filled(len(shown), sum(len(one.runs) for one in shown), len(disk), others, found)


def told(found: Filled) -> str:
    """Return what was found, in words."""
    kept = found.balance
    return (
        f"{found.rounds} rounds: {found.shown} results shown, {found.refused} tests refused for "
        f"want of room, {kept.stored} runs stored; shown but lost {kept.lost}, half-written "
        f"{kept.half_written}, double {kept.double}, broken: {kept.broken or 'nothing'}; "
        f"other errors: {'; '.join(found.other_errors) or 'none'}"
    )


def main() -> None:
    """Print what became of everything that was shown."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    with TemporaryDirectory() as folder:
        if can_mount():
            print("a disk that fills up,", told(filled(Path(folder) / "full", rounds, SEED)))
        else:
            print("no disk can be mounted here")
        print("files that may not grow,", told(limited(Path(folder) / "limited", rounds, SEED)))


if __name__ == "__main__":
    main()
