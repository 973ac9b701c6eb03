"""Commands that study the measurement itself."""

from __future__ import annotations

from pathlib import Path

import click

from station.cli.commands.options import (
    FILE,
    FOLDER,
    as_json,
    limits_folder,
    logs_folder,
    seed,
    simulate,
    station_file,
)


@click.group()
def gauge() -> None:
    """Study how much of what readings vary comes from measuring."""


@gauge.command()
@click.option(
    "--units", required=True, metavar="SERIAL,SERIAL",
    help="Units of one model, as different as production makes them; ten are usual.",
)  # fmt: skip
@click.option(
    "--operators", required=True, metavar="NAME,NAME", help="Who measures; three are usual."
)
@click.option(
    "--repeats", type=click.IntRange(min=2), default=3, show_default=True,
    help="How often everybody measures every unit.",
)  # fmt: skip
@click.option("--by", required=True, metavar="NAME", help="Who plans the study.")
@click.option("--title", default="", help="What it is for.")
@limits_folder
@logs_folder
@simulate
@seed
def plan(
    *,
    units: str,
    operators: str,
    repeats: int,
    by: str,
    title: str,
    limits_folder: Path,
    logs: Path,
    simulate: bool,
    seed: int,
) -> int:
    """Plan a study; the order of measuring is drawn by chance."""
    from station.cli.quality.gauge import Where, plan_study
    from station.quality.gauge.desk import Asked, names_of

    asked = Asked(names_of(units), names_of(operators), repeats, by, title, seed)
    return plan_study(Where(logs, simulate), limits_folder, asked)


@gauge.command()
@click.argument("study")
@click.option(
    "--at-most", type=click.IntRange(min=1), metavar="STEPS",
    help="Stop after so many measurements; the next call goes on.",
)  # fmt: skip
@limits_folder
@logs_folder
@station_file
@simulate
@seed
def measure(
    *,
    study: str,
    at_most: int | None,
    limits_folder: Path,
    logs: Path,
    station_file: Path | None,
    simulate: bool,
    seed: int,
) -> int:
    """Measure what is left of a study, told step by step who measures which unit."""
    from station.cli.quality.gauge import Where, measure_study

    return measure_study(
        Where(logs, simulate), limits_folder, station_file, study, at_most=at_most, seed=seed
    )


@gauge.command(name="list")
@logs_folder
@simulate
def list_(*, logs: Path, simulate: bool) -> int:
    """Show every study and how far it is."""
    from station.cli.quality.gauge import Where, list_studies

    return list_studies(Where(logs, simulate))


@gauge.command()
@click.argument("study")
@click.option("--page", type=FILE, metavar="OUT.html", help="Write a page with charts as well.")
@logs_folder
@simulate
@as_json
def report(*, study: str, page: Path | None, logs: Path, simulate: bool, as_json: bool) -> int:
    """Tell what a complete study found."""
    from station.cli.quality.gauge import Where, report_study

    return report_study(Where(logs, simulate), study, as_json=as_json, page=page)


@gauge.command()
@click.argument("serial")
@click.option(
    "--other-logs", "others", type=FOLDER, multiple=True, metavar="FOLDER",
    help="Logs of other stations that tested the same unit.",
)  # fmt: skip
@logs_folder
@simulate
@as_json
def stations(
    *, serial: str, others: tuple[Path, ...], logs: Path, simulate: bool, as_json: bool
) -> int:
    """Compare stations by a reference unit that all of them tested."""
    from station.cli.quality.stations import compare_stations

    return compare_stations(serial, (logs, *others), simulate=simulate, as_json=as_json)
