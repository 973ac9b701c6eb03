"""`station demo`: the main job on a simulated batch of all models."""

from __future__ import annotations

import threading
from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.cli.shared.setupwords import verdict_word
from station.cli.shared.tables import cause_columns, plain_table
from station.cli.wiring.rights import AskedRights
from station.cli.wiring.wiring import log_folder, ready_cycle, simulated_bench
from station.cycle.unit.report import Progress
from station.hardware.protocols.fixture import Scanner
from station.simulation.factory.demo import demo_batch
from station.simulation.factory.scanner import SimulatedScanner

HEADERS = ("serial", "model", "planted", "verdict", "cause", "margin", "next step")
WIDTHS = (None, None, 26, None, 30, None, 38)


def run_demo(limits_folder: Path, logs: Path, seed: int, *, trial: bool) -> int:
    """Test the batch, print a table, and say where everything is stored."""
    planted = dict(demo_batch())
    scanner: Scanner = SimulatedScanner(planted)
    rows = []
    with (
        simulated_bench(seed, lambda serial: planted[serial], paced=False) as bench,
        ready_cycle(bench, limits_folder, logs, AskedRights(trial=trial)) as cycle,
    ):
        while (serial := scanner.next_serial()) is not None:
            report = cycle.test_unit(serial, on_progress=ignore, stop=threading.Event())
            run = report.final
            cause, margin = cause_columns(run.judgement)
            rows.append(
                (
                    serial,
                    run.model,
                    ", ".join(planted[serial]) or "nothing",
                    verdict_word(run),
                    cause,
                    margin,
                    run.judgement.next_step,
                )
            )
    click.echo(plain_table(HEADERS, rows, WIDTHS))
    folder = log_folder(logs, simulated=True)
    click.echo(
        f"\nEvery run is stored in {folder}/station.db, its recording in {folder}/recordings."
    )
    click.echo("Look at one unit's runs with: station history SERIAL --simulate")
    return Exit.PASS


def ignore(_progress: Progress) -> None:
    """Show nothing while a unit is tested."""
