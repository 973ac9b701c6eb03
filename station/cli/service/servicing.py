"""`station service …`: a unit from look-up to the end of its service."""

from __future__ import annotations

import json
from pathlib import Path

import click

from station.cli.line.single import run_text, tell
from station.cli.service.serving import ServiceOptions, desk_with_bench, desk_without_bench
from station.cli.shared.exitcodes import Exit, exit_of_verdict
from station.cli.shared.faultoptions import parsed_faults
from station.cli.shared.stopping import stoppable
from station.cli.shared.tables import plain_table
from station.errors import RefusedInputError
from station.screens.technician.servicewords import change_lines, dossier_lines, next_step
from station.service.asbuilt import ThenAndNow
from station.service.desk import ServiceDesk
from station.service.dossier import Dossier
from station.service.servicetest import ServiceTest

FORMAT = 1


def show_unit(serial: str, revision: str | None, options: ServiceOptions, *, as_json: bool) -> int:
    """Show all that is known of a unit."""
    with desk_without_bench(options) as desk:
        dossier = desk.look_up(serial, revision)
        revisions = [file.limits.model.revision for file in desk.service_revisions(dossier)]
    if as_json:
        click.echo(dossier_as_json(dossier, revisions))
        return Exit.PASS
    for line in dossier_lines(dossier):
        click.echo(line)
    if revisions:
        click.echo(f"Service revisions for it: {', '.join(revisions)}")
    built = dossier.as_built
    if built is not None:
        rows = [(name, f"{n.value:.6g}", n.unit) for name, n in built.readings.numbers.items()]
        click.echo(f"\n{plain_table(('as built', 'value', 'unit'), rows)}")
        click.echo(f"Curves as built: {', '.join(built.readings.curves) or 'none'}")
    click.echo(f"\n{next_step(dossier)}")
    return Exit.PASS


def open_service(
    serial: str, by: str, complaint: str, revision: str | None, options: ServiceOptions
) -> int:
    """Begin a service."""
    with desk_without_bench(options) as desk:
        desk.open(serial, by, complaint, revision)
        return told(desk, serial)


def test_in_service(
    serial: str,
    by: str,
    pin_file: Path | None,
    service_revision: str | None,
    options: ServiceOptions,
    *,
    seed: int,
    faults: tuple[str, ...],
    temperature_c: float | None,
    as_json: bool,
) -> int:
    """Test a unit in service by the limits it was built to, and against itself as built."""
    if faults and not options.simulate:
        raise RefusedInputError("Faults can be planted in simulated units only.", "Add --simulate.")
    planted = parsed_faults(faults)
    held = desk_with_bench(
        options,
        by,
        pin_file,
        seed=seed,
        faults_of=lambda _: planted,
        paced=False,
        temperature_c=temperature_c,
    )
    with held as (desk, _bench, _log), stoppable() as stop:
        tested = desk.test(
            serial, by, service_revision=service_revision, on_progress=tell, stop=stop
        )
        dossier = desk.look_up(serial)
    if as_json:
        click.echo(test_as_json(tested))
    else:
        click.echo(run_text(tested.final))
        click.echo(f"\nTested {tested.kind.value} the repair, against the unit as built:")
        for line in change_lines(tested.change):
            click.echo(f"  {line}")
        click.echo(f"\n{next_step(dossier)}")
    return exit_of_verdict(tested.final.judgement.verdict)


def note_part(
    serial: str, by: str, part: str, batch: str, reason: str, options: ServiceOptions
) -> int:
    """Note a part that was replaced."""
    with desk_without_bench(options) as desk:
        desk.replace_part(serial, by, part, batch, reason)
        return told(desk, serial)


def note_cause(serial: str, by: str, part: str, words: str, options: ServiceOptions) -> int:
    """Note which part was at fault."""
    with desk_without_bench(options) as desk:
        desk.confirm_cause(serial, by, part, words)
        return told(desk, serial)


def check_partner(serial: str, by: str, partner: str, options: ServiceOptions) -> int:
    """Compare a unit with the other one of its pair; outside the limits for a pair is a fail."""
    with desk_without_bench(options) as desk:
        check = desk.check_partner(serial, by, partner)
        told(desk, serial)
    return Exit.FAIL if check.within is False else Exit.PASS


def close_service(serial: str, by: str, words: str, options: ServiceOptions) -> int:
    """End a service."""
    with desk_without_bench(options) as desk:
        desk.close(serial, by, words)
        click.echo(f"The service of {serial} is closed.")
    return Exit.PASS


def import_record(
    file: Path,
    *,
    serial: str,
    model: str,
    revision: str,
    measured_on: str,
    origin: str,
    by: str,
    options: ServiceOptions,
) -> int:
    """Keep measurements from before the log."""
    try:
        contents = file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise RefusedInputError(
            f"{file} cannot be read: {error}.", "Name a CSV file in UTF-8."
        ) from error
    with desk_without_bench(options) as desk:
        desk.import_record(
            contents,
            file_name=file.name,
            serial=serial,
            model=model,
            revision=revision,
            measured_on=measured_on,
            origin=origin,
            by=by,
        )
    click.echo(f"{file.name} is kept as the record of {serial} of {measured_on}.")
    return Exit.PASS


def told(desk: ServiceDesk, serial: str) -> int:
    """Show a unit after a step, and what comes next."""
    dossier = desk.look_up(serial)
    for line in dossier_lines(dossier):
        click.echo(line)
    click.echo(f"\n{next_step(dossier)}")
    return Exit.PASS


def dossier_as_json(dossier: Dossier, service_revisions: list[str]) -> str:
    """Return a unit as one line of JSON; its keys stand in DEVELOPERS.md."""
    built = dossier.as_built
    return json.dumps(
        {
            "format": FORMAT,
            "serial": dossier.serial,
            "model": dossier.model,
            "revision": dossier.revision,
            "serviced_to": dossier.serviced_to or None,
            "service_revisions": service_revisions,
            "limits": dossier.limits.shelved.name,
            "limits_from": dossier.limits.found_in.value,
            "in_log": dossier.in_log,
            "built_on": dossier.built_on or None,
            "as_built": None if built is None else built.entry_id,
            "services": [
                {
                    "service": one.service.service_id,
                    "utc": one.service.opened_utc.isoformat(),
                    "by": one.service.opened_by,
                    "complaint": one.service.complaint,
                    "open": one.is_open,
                    "steps": [
                        {
                            "kind": step.kind.value,
                            "utc": step.made_utc.isoformat(),
                            "by": step.made_by,
                            "run": step.run_id,
                            "part": step.part,
                            "batch": step.batch,
                            "partner": step.partner,
                            "words": step.words,
                        }
                        for step in one.steps
                    ],
                }
                for one in dossier.services
            ],
        },
        ensure_ascii=False,
    )


def test_as_json(tested: ServiceTest) -> str:
    """Return a test in service as one line of JSON; its keys stand in DEVELOPERS.md."""
    run = tested.final
    return json.dumps(
        {
            "format": FORMAT,
            "serial": run.serial,
            "run": run.run_id,
            "when": tested.kind.value,
            "verdict": run.judgement.verdict.value,
            "revision": run.revision,
            "limits_from": tested.limits.found_in.value,
            "next_step": run.judgement.next_step,
            "as_built": change_as_object(tested.change),
        },
        ensure_ascii=False,
    )


def change_as_object(change: ThenAndNow | None) -> dict[str, object] | None:
    """Return how a unit has changed; None where it is not known as built."""
    if change is None:
        return None
    return {
        "within": change.within,
        "why_not": change.why_not or None,
        "bands": [
            {
                "name": one.name,
                "from_hz": one.from_hz,
                "to_hz": one.to_hz,
                "level_db": one.match.level_db,
                "shape_max_db": one.match.shape_max_db,
                "worst_hz": one.match.worst_hz,
            }
            for one in change.bands
        ],
        "numbers": [
            {"name": one.name, "unit": one.unit, "then": one.then, "now": one.now}
            for one in change.numbers
        ],
    }
