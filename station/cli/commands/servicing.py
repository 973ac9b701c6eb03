"""Commands for a unit that came back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from station.cli.commands.options import (
    FILE,
    FOLDER,
    as_json,
    limits_folder,
    logs_folder,
    noted_temperature,
    pin_file,
    seed,
    simulate,
    station_file,
)

if TYPE_CHECKING:  # what is behind it is heavy
    from station.cli.service.serving import ServiceOptions

by = click.option("--by", required=True, metavar="NAME", help="Who works here.")
revision_on_plate = click.option(
    "--revision", help="The revision on its plate, if the unit is older than the log."
)


def desk_options(command: Callable[..., int]) -> Callable[..., int]:
    """Return a command that is handed where log, limits and station are."""

    def with_options(
        *,
        logs: Path,
        limits_folder: Path,
        station_file: Path | None,
        simulate: bool,
        **arguments: Any,
    ) -> int:
        from station.cli.service.serving import ServiceOptions

        return command(
            options=ServiceOptions(logs, limits_folder, station_file, simulate), **arguments
        )

    with_options.__doc__ = command.__doc__
    with_options.__name__ = command.__name__
    params = getattr(command, "__click_params__", [])
    with_options.__click_params__ = params  # type: ignore[attr-defined] # click keeps them there
    decorated: Callable[..., int] = with_options
    for option in (simulate, station_file, logs_folder, limits_folder):
        decorated = option(decorated)
    return decorated


@click.group()
def service() -> None:
    """Look after a unit that came back."""


@service.command()
@click.argument("serial")
@revision_on_plate
@as_json
@desk_options
def show(*, serial: str, revision: str | None, as_json: bool, options: ServiceOptions) -> int:
    """Show what a unit was built to, how it left, and what was done."""
    from station.cli.service.servicing import show_unit

    return show_unit(serial, revision, options, as_json=as_json)


@service.command("open")
@click.argument("serial")
@by
@click.option("--complaint", default="", help="What its owner says.")
@revision_on_plate
@desk_options
def open_(
    *, serial: str, by: str, complaint: str, revision: str | None, options: ServiceOptions
) -> int:
    """Begin a service."""
    from station.cli.service.servicing import open_service

    return open_service(serial, by, complaint, revision, options)


@service.command("test")
@click.argument("serial")
@by
@pin_file
@click.option("--service-revision", help="A service revision, for a part made otherwise.")
@seed
@click.option(
    "--fault", "faults", multiple=True, metavar="NAME=SEVERITY",
    help="Plant a fault in the simulated unit.",
)  # fmt: skip
@noted_temperature
@as_json
@desk_options
def test_(
    *,
    serial: str,
    by: str,
    pin_file: Path | None,
    service_revision: str | None,
    seed: int,
    faults: tuple[str, ...],
    temperature_c: float | None,
    as_json: bool,
    options: ServiceOptions,
) -> int:
    """Test by the limits it was built to, and against itself as built."""
    from station.cli.service.servicing import test_in_service

    return test_in_service(
        serial, by, pin_file, service_revision, options,
        seed=seed, faults=faults, temperature_c=temperature_c, as_json=as_json,
    )  # fmt: skip


@service.command()
@click.argument("serial")
@click.argument("part")
@by
@click.option("--batch", default="", help="Batch or number of the new part.")
@click.option("--reason", default="", help="Why it was replaced.")
@desk_options
def part(
    *, serial: str, part: str, by: str, batch: str, reason: str, options: ServiceOptions
) -> int:
    """Note a part that was replaced, such as C2 or woofer."""
    from station.cli.service.servicing import note_part

    return note_part(serial, by, part, batch, reason, options)


@service.command()
@click.argument("serial")
@click.argument("part")
@by
@click.option("--words", default="", help="What was wrong with it.")
@desk_options
def cause(*, serial: str, part: str, by: str, words: str, options: ServiceOptions) -> int:
    """Note the part that was found at fault."""
    from station.cli.service.servicing import note_cause

    return note_cause(serial, by, part, words, options)


@service.command()
@click.argument("serial")
@click.argument("partner")
@by
@desk_options
def partner(*, serial: str, partner: str, by: str, options: ServiceOptions) -> int:
    """Compare with the other unit of its pair."""
    from station.cli.service.servicing import check_partner

    return check_partner(serial, by, partner, options)


@service.command()
@click.argument("serial")
@by
@click.option("--words", default="", help="A last remark.")
@desk_options
def close(*, serial: str, by: str, words: str, options: ServiceOptions) -> int:
    """End the service."""
    from station.cli.service.servicing import close_service

    return close_service(serial, by, words, options)


@service.command("import")
@click.argument("file", type=FILE)
@click.option("--serial", required=True)
@click.option("--model", required=True)
@click.option("--revision", required=True)
@click.option("--measured", "measured_on", required=True, help="When, as well as it is known.")
@click.option("--origin", required=True, help="Where the record comes from.")
@by
@desk_options
def import_(
    *,
    file: Path,
    serial: str,
    model: str,
    revision: str,
    measured_on: str,
    origin: str,
    by: str,
    options: ServiceOptions,
) -> int:
    """Keep curves and numbers from before the log, a CSV file."""
    from station.cli.service.servicing import import_record

    return import_record(
        file, serial=serial, model=model, revision=revision, measured_on=measured_on,
        origin=origin, by=by, options=options,
    )  # fmt: skip


@click.command()
@by
@pin_file
@click.option("--out", type=FOLDER, default=Path(), show_default="here", help="Folder for paper.")
@click.option("--language", type=click.Choice(["en", "de"]), default="en", show_default=True)
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@seed
@noted_temperature
@desk_options
def technician(
    *,
    by: str,
    pin_file: Path | None,
    out: Path,
    language: str,
    paper: str,
    seed: int,
    temperature_c: float | None,
    options: ServiceOptions,
) -> int:
    """Open the technician's screen."""
    from station.cli.service.technician import run_technician

    return run_technician(
        options, by, pin_file, out, language, paper, seed=seed, temperature_c=temperature_c
    )
