"""Short versions of the durability studies: nothing that was shown is lost, whatever fails."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.studies.damaged import KINDS, damaged
from tests.studies.failingwrites import compiler

ROOT = Path(__file__).parents[2]
KEPT = "shown but lost 0, half-written 0, double 0, broken: nothing"


def told_by(study: str, rounds: int) -> list[str]:
    """Return what a study printed; it forks, so it runs in a process of its own."""
    command = [sys.executable, "-W", "error", "-m", f"tests.studies.{study}", str(rounds)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    return done.stdout.splitlines()


def number_of(words: str, line: str) -> int:
    """Return the number that stands before some words."""
    found = re.search(rf"(\d+) {words}", line)
    assert found is not None, line
    return int(found[1])


def test_a_kill_at_any_instant_loses_nothing_that_was_shown() -> None:
    first, second = told_by("killed", 6)
    assert number_of("results shown", first) > 0
    assert second == KEPT


def test_a_full_disk_loses_nothing_that_was_shown() -> None:
    on_disk, limited = told_by("fulldisk", 3)
    assert KEPT in limited
    assert limited.endswith("other errors: none")
    assert number_of("tests refused for want of room", limited) > 0
    assert number_of("results shown", limited) > 0
    if on_disk == "no disk can be mounted here":
        pytest.skip("only root can mount a disk; the size of files was limited instead")
    assert KEPT in on_disk
    assert number_of("tests refused for want of room", on_disk) > 0


@pytest.mark.skipif(compiler() is None, reason="needs a C compiler (apt install gcc libc6-dev)")
def test_failing_writes_lose_nothing_that_was_shown() -> None:
    (line,) = told_by("failingwrites", 4)
    assert KEPT in line
    assert line.endswith("other errors: none")
    assert number_of("tests refused", line) > 0


def test_a_damaged_log_is_noticed_goes_on_and_loses_nothing_undamaged(tmp_path: Path) -> None:
    for name, met in damaged(tmp_path, len(KINDS), seed=5):
        assert met.noticed != "NOT", name
        assert met.goes_on, name
        assert met.lost_undamaged == 0, name
        assert met.wrong == 0, name
