"""How soon real PortAudio is silent when the lid opens, heard by a speaker on JACK.

Run as: ./.run python -m tests.studies.lidjack [OPENINGS]

The lid is a simulated fixture in a process of its own, behind a pseudo-terminal. Needs jackd2 and
libportaudio2.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

import click
import numpy as np

from tests.hardware.jackbench import jack_speaker
from tests.hardware.lidjack import openings
from tests.hardware.serialbench import serial_bench

SEED = 5


def main(wanted: int) -> None:
    """Print what the speaker heard."""
    jackd = shutil.which("jackd")
    assert jackd is not None, "apt install jackd2"
    ratios = np.random.default_rng(SEED).uniform(0.05, 0.95, wanted)
    with (
        tempfile.TemporaryDirectory() as folder,
        jack_speaker(np.ones((2, 1)), Path(folder), jackd=jackd) as jack,
        serial_bench(Path(folder) / "ports") as lids,
    ):
        latency, found = openings([float(ratio) for ratio in ratios], Path(folder), jack, lids)
        block_ms = 1000.0 * jack.settings.block_frames / 96_000.0
    click.echo(f"{wanted} openings at random instants, blocks of {block_ms:.1f} ms")
    click.echo(f"stopped: {sum(one.stopped for one in found)}")
    told_ms = [1000.0 * one.told_s for one in found]
    click.echo(f"lid to station: median {np.median(told_ms):.1f} ms, at most {max(told_ms):.1f} ms")
    late = max(one.blocks_after_told for one in found)
    click.echo(
        f"blocks with sound that began after the station was told: {late} at most; the way out "
        f"and back takes {latency}"
    )
    click.echo(
        f"ended by a ramp to zero within the last of them: {sum(one.faded for one in found)}"
    )
    silent_ms = [1000.0 * one.last_sound_s for one in found]
    click.echo(
        f"lid to silence: median {np.median(silent_ms):.1f} ms, at most {max(silent_ms):.1f} ms"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
