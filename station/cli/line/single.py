"""`station test`: one unit, no screen."""

from __future__ import annotations

from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit, exit_of_verdict
from station.cli.shared.faultoptions import parsed_faults
from station.cli.shared.jsonform import run_as_json
from station.cli.shared.setupwords import setup_words, verdict_word
from station.cli.shared.stopping import stoppable
from station.cli.shared.suspectform import suspect_of
from station.cli.shared.tables import plain_table, signed
from station.cli.wiring.rights import AskedRights
from station.cli.wiring.wiring import held_bench, ready_cycle
from station.cycle.stored.totaluncertainty import expanded_uncertainty
from station.cycle.unit.report import Progress, Stage
from station.errors import RefusedInputError
from station.judging.verdicts.decisionwords import decision_sentence, interval_words, risk_words
from station.judging.verdicts.verdict import Decision
from station.judging.words.words import frequency_words, measured_words
from station.records.kept.run import Run
from station.screens.shared.wording import suspect_line
from station.simulation.faults import FAULTS

# JCGM 100:2008, 7.2.2: what stands behind ± must be said to be the standard uncertainty.
MARGIN_HEADERS = (
    "reading",
    "value ± standard uncertainty",
    "with calibration (k = 2)",
    "margin",
    "at",
)
DECISION_HEADERS = ("reading", "at", "tolerance", "acceptance", "u", "outside tolerance with")
FAULT_HEADERS = ("fault", "what it is", "severity", "usual", "models")


def run_single(
    serial: str,
    limits_folder: Path,
    logs: Path,
    station_file: Path | None,
    asked: AskedRights,
    *,
    simulate: bool,
    seed: int,
    faults: tuple[str, ...],
    temperature_c: float | None,
    as_json: bool,
) -> int:
    """Test one unit and tell the outcome of every run."""
    if "list" in faults:
        click.echo(plain_table(FAULT_HEADERS, fault_rows()))
        return Exit.PASS
    if faults and not simulate:
        raise RefusedInputError("Faults can be planted in simulated units only.", "Add --simulate.")
    planted = parsed_faults(faults)
    bench_held = held_bench(
        simulate=simulate,
        path=station_file,
        temperature_c=temperature_c,
        seed=seed,
        faults_of=lambda _: planted,
        paced=False,
    )
    with (
        bench_held as bench,
        ready_cycle(bench, limits_folder, logs, asked) as cycle,
        stoppable() as stop,
    ):
        report = cycle.test_unit(serial, on_progress=tell, stop=stop)
    suspected = cycle.suspects_of(report)
    for run in report.runs:
        diagnosis = suspected if run is report.final else None
        if as_json:
            click.echo(run_as_json(run, {"suspect": suspect_of(diagnosis)}))
        else:
            click.echo(run_text(run))
            if line := suspect_line(diagnosis):
                click.echo(f"\n{line}")
    return exit_of_verdict(report.final.judgement.verdict)


def fault_rows() -> list[tuple[str, str, str, str, str]]:
    """Return a row for every fault that can be planted."""
    return [
        (fault.name, fault.meaning, fault.unit, f"{fault.default:g}", ", ".join(fault.models))
        for fault in FAULTS
    ]


def tell(progress: Progress) -> None:
    """Say on the error stream when a sweep begins, and why it is repeated."""
    if progress.stage is Stage.REPEATING:
        click.echo(f"Repeating (attempt {progress.attempt}): {progress.reason}", err=True)
    elif progress.stage is Stage.WAITING:
        click.echo("Close the lid, then press the start button.", err=True)
    elif progress.stage is Stage.SECURING:
        loud = (
            "" if (db := progress.ears_db_spl) is None else f": {db:.0f} dB SPL. Protect your ears"
        )
        click.echo(f"The sweep is about to play, and it is loud{loud}.", err=True)


def run_text(run: Run) -> str:
    """Return one run for people: verdict, next step, causes, and every judged reading."""
    judgement = run.judgement
    lines = [
        f"{verdict_word(run)}  {run.serial}  {run.model} revision {run.revision}",
        judgement.next_step,
        setup_words(run),
    ]
    if judgement.causes:
        rows = [
            (cause.happened, cause.advice if cause.advice != judgement.next_step else "")
            for cause in judgement.causes
        ]
        lines += ["", plain_table(("cause", "advice"), rows, (56, 56))]
    if judgement.margins:
        lines += ["", margin_table(run)]
    if judgement.decision is not None:
        lines += ["", decision_sentence(judgement), "", decision_table(judgement.decision)]
    return "\n".join(lines)


def decision_table(decision: Decision) -> str:
    """Return tolerance and acceptance limits of what has an uncertainty, where it is nearest."""
    rows = [
        (
            name,
            frequency_words(found.at_hz) if found.at_hz is not None else "",
            interval_words(found.tolerance, found),
            interval_words(found.acceptance, found),
            f"{found.standard_uncertainty:.2g}",
            risk_words(1.0 - found.conforming_probability),
        )
        for name, found in decision.conformities.items()
    ]
    return plain_table(DECISION_HEADERS, rows)


def margin_table(run: Run) -> str:
    """Return every judged reading; the column with the calibration only where one is known."""
    rows = margin_rows(run)
    kept = [column for column in range(len(MARGIN_HEADERS)) if any(row[column] for row in rows)]
    return plain_table(
        [MARGIN_HEADERS[column] for column in kept],
        [[row[column] for column in kept] for row in rows],
    )


def margin_rows(run: Run) -> list[tuple[str, str, str, str, str]]:
    """Return a row for every judged reading."""
    rows = []
    for name, margin in run.judgement.margins.items():
        number = run.readings.numbers.get(name)
        value, whole = "curve", ""
        if number is not None:
            value = measured_words(number.value, number.unit, number.uncertainty)
            expanded = expanded_uncertainty(name, number, run.setup.calibrations)
            if expanded is not None:
                whole = measured_words(number.value, number.unit, expanded)
        at = frequency_words(margin.at_hz) if margin.at_hz is not None else ""
        rows.append((name, value, whole, signed(margin.value, margin.unit), at))
    return rows
