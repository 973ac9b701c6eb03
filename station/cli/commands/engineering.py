"""Commands of the quality engineer on limits: learn them, try them."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from station.cli.commands.options import FILE, FOLDER, as_json, logs_folder, simulate

if TYPE_CHECKING:
    from collections.abc import Callable

    from station.quality.whatifunits import Choice

DAYS = click.DateTime(("%Y-%m-%d", "%Y-%m-%dT%H:%M"))
AnyFunction = TypeVar("AnyFunction", bound="Callable[..., Any]")

PERIOD_AND_SERIALS = (
    click.option("--since", type=DAYS, help="Only runs from this day or minute on, in UTC."),
    click.option("--until", type=DAYS, help="Only runs before this day or minute, in UTC."),
    click.option(
        "--serials", metavar="PATTERN",
        help="Only these units: a regular expression for the whole serial number.",
    ),
)  # fmt: skip


def period_and_serials(function: AnyFunction) -> AnyFunction:
    """Add the options that choose among the runs of the log."""
    for option in reversed(PERIOD_AND_SERIALS):
        function = option(function)
    return function


def choice_of(
    since: datetime | None, until: datetime | None, serials: str | None, which: str
) -> Choice:
    """Return the choice that was made on the command line."""
    from station.quality.whatifunits import Choice, Which
    from station.records.runlist import Period

    ends = (None if day is None else day.replace(tzinfo=UTC) for day in (since, until))
    return Choice(Period(*ends), serials, Which(which))


@click.command("try")
@click.argument("draft", type=FILE)
@click.option("--against", type=FILE, help="Compare with this limit file, not with the verdicts.")
@period_and_serials
@click.option(
    "--which", type=click.Choice(("newest", "first", "every")), default="newest",
    show_default=True, help="Which runs of each unit count.",
)  # fmt: skip
@click.option("--from-recordings", is_flag=True, help="Read everything anew from the recordings.")
@click.option(
    "--workers", type=click.IntRange(min=1, max=64), default=1, show_default=True,
    help="Processes that share the recordings.",
)  # fmt: skip
@click.option(
    "--out", type=FOLDER, help="Folder of what is judged; a stopped command goes on there."
)
@click.option(
    "--worst", type=click.IntRange(min=0), default=10, show_default=True,
    help="How many runs are listed of each kind.",
)  # fmt: skip
@logs_folder
@simulate
@as_json
def try_draft(
    *,
    draft: Path,
    against: Path | None,
    since: datetime | None,
    until: datetime | None,
    serials: str | None,
    which: str,
    from_recordings: bool,
    workers: int,
    out: Path | None,
    worst: int,
    logs: Path,
    simulate: bool,
    as_json: bool,
) -> int:
    """Show what a draft would have said of the runs in the log."""
    from station.cli.trying import try_draft as try_it

    return try_it(
        draft, choice_of(since, until, serials, which), logs,
        simulate=simulate, against=against, from_recordings=from_recordings, workers=workers,
        out=out, worst=worst, as_json=as_json,
    )  # fmt: skip
