"""What the fixture's driver makes of lines that a bad cable damaged: 100 000 of them.

Run as: ./.run python -m tests.studies.serialnoise [LINES]

Half of the time the lid is open and the driver must never secure a unit; half of the time it is
closed, and what it says must be true whenever it says anything. Time is simulated; the longest
time a request took is printed beside the longest it may take.
"""

from __future__ import annotations

import sys
from collections import Counter

import click

from station.errors import FixtureError
from station.simulation.bench.controller import SimulatedController
from tests.hardware.serialnoise import Noise
from tests.hardware.wires import FIXTURE, Wire, WireClock, fixture_on

KEEPS = (0.0, 0.3, 0.7)  # shares of lines that go through unharmed


def main(wanted: int) -> None:
    """Print what came of every request."""
    came: Counter[str] = Counter()
    lines, longest_s, wrong = 0, 0.0, 0
    for seed in range(sys.maxsize):
        if lines >= wanted:
            break
        noise = Noise(seed, KEEPS[seed % len(KEEPS)])
        controller = SimulatedController("line-1", lid_open=seed % 2 == 0)
        wire = Wire(controller, WireClock(), noise)
        fixture = fixture_on(wire)
        for _request in range(200):
            began_s = wire.clock.now_s
            try:
                told = fixture.lid_closed()
            except FixtureError as error:
                came[error.happened] += 1
            else:
                came[f"lid {'closed' if told else 'open'}, truly"] += 1
                wrong += told is controller.lid_open
            try:
                fixture.secure("T2A00001", "Tarn 2")
            except FixtureError as error:
                came[error.happened] += 1
            else:
                came["secured"] += 1
                wrong += controller.lid_open or controller.relays != 1
            longest_s = max(longest_s, wire.clock.now_s - began_s)
        lines += noise.lines
    one_s = FIXTURE.answer_limit_s * FIXTURE.tries
    click.echo(f"{lines} lines, {sum(came.values())} requests; wrong answers: {wrong}")
    click.echo(f"longest time for both requests {longest_s:.1f} s; one line may take {one_s:.1f} s")
    for what, count in came.most_common():
        click.echo(f"{count:8d}  {what}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
