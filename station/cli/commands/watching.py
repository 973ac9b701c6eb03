"""Commands that watch production."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from station.cli.commands.options import FILE, FOLDER, as_json, charting, logs_folder, simulate

if TYPE_CHECKING:
    from station.cli.quality.watch import WatchOptions

Command = Callable[..., Any]


def watch_options(command: Command) -> Command:
    """Add what every view takes."""
    options = (
        click.option("--model", metavar="NAME", help="Only this model."),
        click.option("--since", metavar="DATE", help="From this day or instant on (UTC)."),
        click.option("--until", metavar="DATE", help="Before this day or instant (UTC)."),
        charting,
        click.option(
            "--at", "points", multiple=True, metavar="CURVE@HZ",
            help="Watch a curve at one frequency like a number: response@1000.",
        ),
        logs_folder,
        simulate,
    )  # fmt: skip
    for option in reversed(options):  # the last one applied stands first in the help
        command = option(command)
    return command


def options_of(*, as_json: bool, **given: Any) -> WatchOptions:
    """Return the options of a view."""
    from station.cli.quality.watch import WatchOptions, instant_of, points_of
    from station.quality.watching.watched import Wanted

    wanted = Wanted(
        instant_of(given["since"]),
        instant_of(given["until"]),
        given["model"],
        given["references"],
        given["subgroup"],
        given["baseline"],
        points_of(given["points"]),
    )
    return WatchOptions(given["logs"], given["simulate"], wanted, as_json)


@click.group()
def watch() -> None:
    """Watch production: yields, causes, capability, risk, and what has moved."""


@watch.command(name="yield")
@click.option(
    "--by", type=click.Choice(["hour", "day", "shift", "model"]), default="day", show_default=True
)
@click.option(
    "--shift-starts", default="", metavar="TIME,TIME", help="When shifts begin (UTC): 05:00,13:00."
)
@watch_options
@as_json
def yield_(*, by: str, shift_starts: str, as_json: bool, **given: Any) -> int:
    """Show how many units pass at once and in the end."""
    from station.cli.quality.watch import show_yield

    return show_yield(options_of(as_json=as_json, **given), by, shift_starts)


@watch.command()
@watch_options
@as_json
def causes(*, as_json: bool, **given: Any) -> int:
    """Show what units fail by, the most frequent first."""
    from station.cli.quality.watch import show_causes

    return show_causes(options_of(as_json=as_json, **given))


@watch.command()
@watch_options
@as_json
def capability(*, as_json: bool, **given: Any) -> int:
    """Show how well every judged number and curve fits its limits."""
    from station.cli.quality.watch import show_capability

    return show_capability(options_of(as_json=as_json, **given))


@watch.command()
@watch_options
@as_json
def risk(*, as_json: bool, **given: Any) -> int:
    """Show consumer's and producer's risk in the long run."""
    from station.cli.quality.watch import show_risk

    return show_risk(options_of(as_json=as_json, **given))


@watch.command()
@watch_options
@as_json
def alarms(*, as_json: bool, **given: Any) -> int:
    """Say what has moved: the product or the station."""
    from station.cli.quality.watch import show_alarms

    return show_alarms(options_of(as_json=as_json, **given))


@watch.command()
@click.argument("out", type=FILE, metavar="OUT.html")
@watch_options
def page(*, out: Path, **given: Any) -> int:
    """Write everything, with charts, as one page."""
    from station.cli.quality.watch import write_watch_page

    return write_watch_page(options_of(as_json=False, **given), out)


@click.command()
@click.argument("out", type=FOLDER)
@click.option(
    "--as", "kind", type=click.Choice(["csv", "parquet"]), default="csv", show_default=True
)
@click.option("--model", metavar="NAME", help="Only this model.")
@click.option("--since", metavar="DATE", help="From this day or instant on (UTC).")
@click.option("--until", metavar="DATE", help="Before this day or instant (UTC).")
@logs_folder
@simulate
def export(
    *,
    out: Path,
    kind: str,
    model: str | None,
    since: str | None,
    until: str | None,
    logs: Path,
    simulate: bool,
) -> int:
    """Write runs, numbers and curves as tables for other programs."""
    from station.cli.quality.exporting import export_log

    return export_log(
        out, kind, model=model, since=since, until=until, logs=logs, simulate=simulate
    )
