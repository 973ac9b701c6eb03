"""Let writes fail under the cycle: `python -m tests.studies.failingwrites [ROUNDS]`.

A few lines of C, put before the system's library, let the n-th operation fail that changes a file:
a write, a synchronization, a rename. Once or from then on, with no room left or a failing disk,
and with a write half done. A C compiler is needed.
"""

from __future__ import annotations

import ctypes
import errno
import os
import random
import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.studies.fulldisk import Filled, filled_of, told
from tests.studies.underfire import SERIALS_PER_CHILD, balance, good_unit, outcome

SEED = 20261125
ROUNDS = 200
UNITS = 3
MOST_OPERATIONS = 150  # some three units' worth
SOURCE = Path(__file__).with_suffix(".c")
PRELOADED = "STATION_STUDY_PRELOADED"


def compiler() -> str | None:
    """Return a C compiler, None if there is none."""
    return shutil.which("cc") or shutil.which("gcc")


def library(folder: Path) -> Path:
    """Compile the library."""
    path = folder / "failingwrites.so"
    command = [str(compiler()), "-shared", "-fPIC", "-O1", "-o", str(path), str(SOURCE), "-ldl"]
    subprocess.run(command, check=True)
    return path


def failing(folder: Path, rounds: int, seed: int) -> tuple[Filled, int]:
    """Let operations fail so often; return what became of the log, and how many rounds failed."""
    audio = good_unit(folder / "first")
    random_ = random.Random(seed)
    logs = folder / "logs"
    shown = []
    for number in range(rounds):
        wishes = (
            random_.randrange(MOST_OPERATIONS),
            random_.choice((errno.EIO, errno.ENOSPC)),
            random_.randrange(2),
            random_.randrange(2),
        )

        def harm(wishes: tuple[int, ...] = wishes) -> None:
            ctypes.CDLL(None).fail_after(*wishes)

        first = 1 + number * SERIALS_PER_CHILD
        shown.append(outcome(logs, audio, first, kill_after_s=None, units=UNITS, harm=harm))
    return filled_of(shown, balance(logs, shown)), sum(bool(one.errors) for one in shown)


def main() -> None:
    """Print what became of everything that was shown."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    with TemporaryDirectory() as folder:
        if PRELOADED not in os.environ:
            preloaded = {"LD_PRELOAD": str(library(Path(folder))), PRELOADED: "1"}
            command = [sys.executable, "-m", "tests.studies.failingwrites", str(rounds)]
            sys.exit(
                subprocess.run(command, check=False, env={**os.environ, **preloaded}).returncode
            )
        found, rounds_failed = failing(Path(folder), rounds, SEED)
    print(f"writes fail, told in {rounds_failed} rounds;", told(found))


if __name__ == "__main__":
    main()
