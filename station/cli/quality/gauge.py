"""`station gauge`: studies of the measurement itself, planned, guided, and told."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import click

from station.cli.line.single import tell
from station.cli.shared.exitcodes import Exit
from station.cli.shared.pagefile import write_page
from station.cli.shared.stopping import stoppable
from station.cli.shared.tables import plain_table
from station.cli.wiring.wiring import held_bench, log_folder, ready_cycle
from station.cycle.allowed.operatordesk import OperatorDesk
from station.cycle.unit.unitcycle import UnitCycle
from station.errors import NotAllowedError, RefusedInputError
from station.hardware.protocols.clock import SystemClock
from station.judging.files.shelf import limit_shelf
from station.judging.verdicts.verdict import Verdict
from station.quality.gauge.asjson import findings_as_object
from station.quality.gauge.desk import Asked, GaugeDesk, Study, refuse_other
from station.quality.gauge.findings import GaugeFindings
from station.quality.gauge.words import (
    CURVE_HEADERS,
    NUMBER_HEADERS,
    curve_rows,
    number_rows,
    step_words,
    uncertainty_tables,
)
from station.records.files.places import DATABASE_NAME
from station.records.kept.gauge import GaugeStep
from station.records.log.gauges import GaugeLog
from station.records.log.log import RunLog
from station.reports.gaugepage import gauge_page

PLAN_HEADERS = ("study", "planned", "by", "model", "units", "operators", "repeats", "done", "title")


@dataclass(frozen=True, slots=True)
class Where:
    """Which log."""

    logs: Path
    simulate: bool

    @property
    def folder(self) -> Path:
        """Its folder."""
        return log_folder(self.logs, simulated=self.simulate)


@contextmanager
def opened(where: Where) -> Iterator[GaugeDesk]:
    """Hold the studies of a log that is there already."""
    if not (where.folder / DATABASE_NAME).exists():
        raise RefusedInputError(f"There is no log in {where.folder}.", "Name it with --logs.")
    with RunLog.open(where.folder) as log:
        yield GaugeDesk(GaugeLog(log), SystemClock(), simulated=where.simulate)


def plan_study(where: Where, limits_folder: Path, asked: Asked) -> int:
    """Store a plan and tell it."""
    with RunLog.open(where.folder) as log:
        desk = GaugeDesk(GaugeLog(log), SystemClock(), simulated=where.simulate)
        plan = desk.plan(asked, limit_shelf(limits_folder)).plan
    click.echo(
        f"Study {plan.study_id}: {len(plan.serials)} units, {len(plan.operators)} operators, "
        f"{plan.repeats} repeats: {len(plan.steps)} measurements in an order drawn by chance."
    )
    click.echo(step_words(plan, plan.steps[0]))
    click.echo(f"Measure with: station gauge measure {plan.study_id}")
    return Exit.PASS


def measure_study(
    where: Where,
    limits_folder: Path,
    station_file: Path | None,
    study_id: str,
    *,
    at_most: int | None,
    seed: int,
) -> int:
    """Carry out the steps that are left, or so many of them; whoever stops goes on later."""
    with opened(where) as desk:
        study = desk.study(study_id)
    left = study.left[:at_most]
    if not left:
        click.echo(
            f"Study {study_id} is complete. Look at it with: station gauge report {study_id}"
        )
        return Exit.PASS
    bench_held = held_bench(
        simulate=where.simulate,
        path=station_file,
        temperature_c=None,
        seed=seed,
        faults_of=lambda _: {},
        paced=False,
    )
    with bench_held as bench, ready_cycle(bench, limits_folder, where.logs) as cycle:
        for step in left:
            click.echo(step_words(study.plan, step))
            if cycle.desk is not None:
                sign_in(cycle.desk, step.operator)
            if not where.simulate:
                scanned(step.serial)
            if not carried_out(cycle, where, study, step):
                return Exit.VOID
    click.echo(f"{len(left)} done. What comes next or came out: station gauge report {study_id}")
    return Exit.PASS


def sign_in(desk: OperatorDesk, operator: str) -> None:
    """Wait until the operator whose turn it is has signed in, where people have to."""
    while desk.operator is None or desk.operator.name != operator:
        try:
            refuse_other(desk.sign_in(click.prompt(f"Scan the badge of {operator}")).name, operator)
        except (NotAllowedError, RefusedInputError) as error:
            click.echo(f"{error.happened} {error.remedy}")


def scanned(serial: str) -> None:
    """Wait until the right unit is scanned."""
    while (label := click.prompt("Scan the unit")) != serial:
        click.echo(f"That is {label}; {serial} is due.")


def carried_out(cycle: UnitCycle, where: Where, study: Study, step: GaugeStep) -> bool:
    """Carry out a step; return whether it is done."""
    with stoppable() as stop, opened(where) as desk:
        final = desk.carry_out(cycle, study, step, on_progress=tell, stop=stop)
    if final.judgement.verdict is Verdict.VOID:
        click.echo(f"VOID  {final.judgement.causes[0].happened} {final.judgement.next_step}")
        return False
    return True


def list_studies(where: Where) -> int:
    """Show every study."""
    with opened(where) as desk:
        rows = [
            (
                study.plan.study_id,
                f"{study.plan.planned_utc:%Y-%m-%d %H:%M}",
                study.plan.planned_by,
                study.plan.model,
                str(len(study.plan.serials)),
                ", ".join(study.plan.operators),
                str(study.plan.repeats),
                f"{study.done} of {len(study.plan.steps)}",
                study.plan.title,
            )
            for study in desk.studies()
        ]
    click.echo(plain_table(PLAN_HEADERS, rows) if rows else "No gauge study was planned yet.")
    return Exit.PASS


def report_study(where: Where, study_id: str, *, as_json: bool, page: Path | None) -> int:
    """Tell what a complete study found."""
    with opened(where) as desk:
        findings = desk.findings(study_id)
    if page is not None:
        write_page(page, gauge_page(findings))
    if as_json:
        click.echo(json.dumps(findings_as_object(findings), ensure_ascii=False, allow_nan=False))
    else:
        click.echo(findings_text(findings))
    return Exit.PASS


def findings_text(findings: GaugeFindings) -> str:
    """Return the tables, and the lines that a limit file would take."""
    plan = findings.plan
    lines = [
        f"Study {plan.study_id} of the {plan.model}: {len(plan.serials)} units, "
        f"{len(plan.operators)} operators, {plan.repeats} repeats. Spreads are standard "
        "deviations; shares are of six of them.",
        "",
        plain_table(NUMBER_HEADERS, number_rows(findings)),
        "",
        plain_table(CURVE_HEADERS, curve_rows(findings)),
    ]
    lines += [f"Left out: {name}, because {why}." for name, why in findings.left_out.items()]
    lines += ["", "For a [decision] table of the limit file:", "", uncertainty_tables(findings)]
    return "\n".join(lines)
