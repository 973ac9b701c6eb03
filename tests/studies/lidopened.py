"""How soon the simulated output is silent when the lid is opened at random instants of a sweep.

Run as: ./.run python -m tests.studies.lidopened [INSTANTS]
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from pathlib import Path

import click
import numpy as np

from tests.cycle.lids import lid_line, opened

SWEEP_S = 1.6
SEED = 11


def main(instants: int) -> None:
    """Print what came of every opening."""
    with tempfile.TemporaryDirectory() as logs, lid_line(Path(logs)) as line:
        at_s = np.random.default_rng(SEED).uniform(0.0, SWEEP_S, instants)
        found = [opened(line, float(one)) for one in at_s]
    verdicts = Counter(one.verdict.value for one in found)
    click.echo(f"lid opened at {instants} random instants of a sweep of {SWEEP_S} s")
    click.echo(f"verdicts: {', '.join(f'{n} {name}' for name, n in verdicts.items())}")
    late = max(one.late_blocks for one in found)
    click.echo(f"blocks with sound, all fading out, after the one that played: {late} at most")
    silent = sum(one.ends_in_silence for one in found)
    click.echo(f"silent from the end of the next block on: {silent} of {instants}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
