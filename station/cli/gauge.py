"""`station gauge`: studies of the measurement itself, planned, guided, and told."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import click

from station.cli.exitcodes import Exit
from station.cli.pagefile import write_page
from station.cli.single import tell
from station.cli.stopping import stoppable
from station.cli.tables import plain_table
from station.cli.wiring import held_bench, log_folder, ready_cycle
from station.cycle.unitcycle import UnitCycle
from station.errors import RefusedInputError
from station.hardware.clock import SystemClock
from station.judging.shelf import limit_shelf
from station.judging.verdict import Verdict
from station.quality.gauge.asjson import findings_as_object
from station.quality.gauge.findings import GaugeFindings, gauge_findings
from station.quality.gauge.plan import plan_named, planned, steps_left
from station.quality.gauge.words import (
    CURVE_HEADERS,
    NUMBER_HEADERS,
    curve_rows,
    number_rows,
    step_words,
    uncertainty_tables,
)
from station.records.files.places import DATABASE_NAME
from station.records.kept.gauge import GaugeEntry, GaugePlan, GaugeStep
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
def opened(where: Where) -> Iterator[tuple[RunLog, GaugeLog]]:
    """Hold a log that is there already."""
    if not (where.folder / DATABASE_NAME).exists():
        raise RefusedInputError(f"There is no log in {where.folder}.", "Name it with --logs.")
    with RunLog.open(where.folder) as log:
        yield log, GaugeLog(log)


def plan_study(
    where: Where,
    limits_folder: Path,
    *,
    units: str,
    operators: str,
    repeats: int,
    by: str,
    title: str,
    seed: int,
) -> int:
    """Store a plan and tell it."""
    serials = names_of(units)
    shelf = limit_shelf(limits_folder)
    models = {shelf.for_serial(serial).limits.model.name for serial in serials}
    if len(models) > 1:
        raise RefusedInputError(
            f"The units are of several models: {', '.join(sorted(models))}.", "Study one model."
        )
    with RunLog.open(where.folder) as log:
        gauges = GaugeLog(log)
        plan = planned(
            f"G{len(gauges.plans()) + 1}",
            serials=serials,
            operators=names_of(operators),
            repeats=repeats,
            model="".join(models),
            title=title,
            by=by,
            at_utc=SystemClock().utc_now(),
            simulated=where.simulate,
            seed=seed,
        )
        gauges.open_study(plan)
    click.echo(
        f"Study {plan.study_id}: {len(plan.serials)} units, {len(plan.operators)} operators, "
        f"{plan.repeats} repeats: {len(plan.steps)} measurements in an order drawn by chance."
    )
    click.echo(step_words(plan, plan.steps[0]))
    click.echo(f"Measure with: station gauge measure {plan.study_id}")
    return Exit.PASS


def names_of(listed: str) -> list[str]:
    """Return names that stand between commas."""
    return [name.strip() for name in listed.split(",") if name.strip()]


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
    with opened(where) as (_, gauges):
        plan = plan_named(gauges.plans(), study_id)
        left = steps_left(plan, gauges.entries(study_id))[:at_most]
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
            click.echo(step_words(plan, step))
            if not where.simulate:
                scanned(step.serial)
            if not carried_out(cycle, where, plan, step):
                return Exit.VOID
    click.echo(f"{len(left)} done. What comes next or came out: station gauge report {study_id}")
    return Exit.PASS


def scanned(serial: str) -> None:
    """Wait until the right unit is scanned."""
    while (label := click.prompt("Scan the unit")) != serial:
        click.echo(f"That is {label}; {serial} is due.")


def carried_out(cycle: UnitCycle, where: Where, plan: GaugePlan, step: GaugeStep) -> bool:
    """Test a unit and store that the run belongs to the study; a void does not, and stops it."""
    with stoppable() as stop:
        report = cycle.test_unit(step.serial, on_progress=tell, stop=stop)
    final = report.final
    if final.judgement.verdict is Verdict.VOID:
        click.echo(f"VOID  {final.judgement.causes[0].happened} {final.judgement.next_step}")
        return False
    with opened(where) as (_, gauges):
        entry = GaugeEntry(plan.study_id, step.number, final.run_id, final.started_utc)
        gauges.add_entry(entry)
    return True


def list_studies(where: Where) -> int:
    """Show every study."""
    with opened(where) as (_, gauges):
        plans = gauges.plans()
        done = {plan.study_id: len(gauges.entries(plan.study_id)) for plan in plans}
    rows = [
        (
            plan.study_id,
            f"{plan.planned_utc:%Y-%m-%d %H:%M}",
            plan.planned_by,
            plan.model,
            str(len(plan.serials)),
            ", ".join(plan.operators),
            str(plan.repeats),
            f"{done[plan.study_id]} of {len(plan.steps)}",
            plan.title,
        )
        for plan in plans
    ]
    click.echo(plain_table(PLAN_HEADERS, rows) if rows else "No gauge study was planned yet.")
    return Exit.PASS


def report_study(where: Where, study_id: str, *, as_json: bool, page: Path | None) -> int:
    """Tell what a complete study found."""
    with opened(where) as (_, gauges):
        findings = gauge_findings(plan_named(gauges.plans(), study_id), gauges.runs(study_id))
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
