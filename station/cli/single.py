"""`station test`: one unit, no screen."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from types import FrameType

import click

from station.cli.exitcodes import Exit, exit_of_verdict
from station.cli.jsonform import run_as_json
from station.cli.tables import plain_table, signed
from station.cli.wiring import ready_cycle, real_bench, simulated_bench
from station.cycle.bench import Bench
from station.cycle.report import Progress, Stage
from station.errors import RefusedInputError
from station.judging.words import frequency_words, measured_words
from station.records.run import Run
from station.simulation.faults import FAULTS, fault_of

# JCGM 100:2008, 7.2.2: what stands behind ± must be said to be the standard uncertainty.
MARGIN_HEADERS = ("reading", "value ± standard uncertainty", "margin", "at")
FAULT_HEADERS = ("fault", "what it is", "severity", "usual", "models")


def run_single(
    serial: str,
    limits_folder: Path,
    logs: Path,
    station_file: Path,
    *,
    simulate: bool,
    seed: int,
    faults: tuple[str, ...],
    as_json: bool,
) -> int:
    """Test one unit and tell the outcome of every run."""
    if "list" in faults:
        click.echo(plain_table(FAULT_HEADERS, fault_rows()))
        return Exit.PASS
    if faults and not simulate:
        raise RefusedInputError("Faults can be planted in simulated units only.", "Add --simulate.")
    planted = parsed_faults(faults)
    bench_held: AbstractContextManager[Bench] = (
        simulated_bench(seed, lambda _: planted, paced=False)
        if simulate
        else real_bench(station_file)
    )
    with bench_held as bench, ready_cycle(bench, limits_folder, logs) as cycle, stoppable() as stop:
        report = cycle.test_unit(serial, on_progress=tell, stop=stop)
    for run in report.runs:
        click.echo(run_as_json(run) if as_json else run_text(run))
    return exit_of_verdict(report.final.judgement.verdict)


def fault_rows() -> list[tuple[str, str, str, str, str]]:
    """Return a row for every fault that can be planted."""
    return [
        (fault.name, fault.meaning, fault.unit, f"{fault.default:g}", ", ".join(fault.models))
        for fault in FAULTS
    ]


@contextmanager
def stoppable() -> Iterator[threading.Event]:
    """Turn Ctrl-C and a polite kill into a request to stop, so that no run is left half stored."""
    stop = threading.Event()

    def ask(_number: int, _frame: FrameType | None) -> None:
        stop.set()

    before = {number: signal.signal(number, ask) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def tell(progress: Progress) -> None:
    """Say on the error stream when a sweep begins, and why it is repeated."""
    if progress.stage is Stage.REPEATING:
        click.echo(f"Repeating (attempt {progress.attempt}): {progress.reason}", err=True)
    elif progress.stage is Stage.SECURING:
        click.echo("The sweep is about to play, and it is loud.", err=True)


def parsed_faults(faults: tuple[str, ...]) -> Mapping[str, float]:
    """Return faults by name; NAME alone means the fault's own usual severity."""
    planted: dict[str, float] = {}
    for fault in faults:
        name, equals, severity = fault.partition("=")
        try:
            planted[name] = float(severity) if equals else fault_of(name).default
        except ValueError as error:
            raise RefusedInputError(
                f"The severity of fault {name!r} is no number: {severity!r}.",
                "Write NAME=NUMBER, for example low_bias=0.2.",
            ) from error
    return planted


def run_text(run: Run) -> str:
    """Return one run for people: verdict, next step, causes, and every judged reading."""
    judgement = run.judgement
    lines = [
        f"{judgement.verdict.value.upper()}  {run.serial}  {run.model} revision {run.revision}",
        judgement.next_step,
    ]
    if judgement.causes:
        rows = [
            (cause.happened, cause.advice if cause.advice != judgement.next_step else "")
            for cause in judgement.causes
        ]
        lines += ["", plain_table(("cause", "advice"), rows, (56, 56))]
    if judgement.margins:
        lines += ["", plain_table(MARGIN_HEADERS, margin_rows(run))]
    return "\n".join(lines)


def margin_rows(run: Run) -> list[tuple[str, str, str, str]]:
    """Return a row for every judged reading."""
    rows = []
    for name, margin in run.judgement.margins.items():
        number = run.readings.numbers.get(name)
        value = "curve"
        if number is not None:
            value = measured_words(number.value, number.unit, number.uncertainty)
        at = frequency_words(margin.at_hz) if margin.at_hz is not None else ""
        rows.append((name, value, signed(margin.value, margin.unit), at))
    return rows
