"""A short version of the study of changed files."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_changed_files_are_refused_or_used_and_never_pass_a_dead_tweeter() -> None:
    command = [sys.executable, "-W", "error", "-m", "tests.studies.fuzzed", "120", "24"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.endswith("120 files and 24 recordings: 0 not treated well\n"), done.stdout
