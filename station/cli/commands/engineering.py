"""Commands of the quality engineer on limits: forecast them, learn them, try them."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from station.cli.commands.options import (
    FILE,
    FOLDER,
    AnyFunction,
    as_json,
    charting,
    limits_folder,
    logs_folder,
    seed,
    simulate,
    station_file,
)

if TYPE_CHECKING:
    from station.quality.judged.units import Choice

DAYS = click.DateTime(("%Y-%m-%d", "%Y-%m-%dT%H:%M"))

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
    from station.quality.judged.units import Choice, Which
    from station.records.summaries.runlist import Period

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
@click.option("--page", type=FILE, help="Write a page with the curves over each band.")
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
    page: Path | None,
    logs: Path,
    simulate: bool,
    as_json: bool,
) -> int:
    """Show what a draft would have said of the runs in the log."""
    from station.cli.limits.trying import try_draft as try_it

    return try_it(
        draft, choice_of(since, until, serials, which), logs,
        simulate=simulate, against=against, from_recordings=from_recordings, workers=workers,
        out=out, worst=worst, page=page, as_json=as_json,
    )  # fmt: skip


@click.command("learn")
@click.argument("base", type=FILE)
@click.argument("out", type=FILE)
@period_and_serials
@click.option(
    "--also-failed", is_flag=True,
    help="Units that did not pass count too, because you know them to be good.",
)  # fmt: skip
@click.option(
    "--coverage", type=click.FloatRange(0.5, 1.0, max_open=True), default=0.997,
    show_default=True, help="Share of good units that must pass all limits at once.",
)  # fmt: skip
@click.option(
    "--confidence", type=click.FloatRange(0.5, 1.0, max_open=True), default=0.9,
    show_default=True, help="How sure that must be.",
)  # fmt: skip
@click.option(
    "--slack", type=click.FloatRange(0.05, 2.0), default=0.4, show_default=True,
    help="How much of its half-width a band may lie further off, to need few breakpoints.",
)  # fmt: skip
@click.option(
    "--at-least", multiple=True, metavar="READING=VALUE",
    help="Least half-width of a reading's limits, in its own unit.",
)  # fmt: skip
@click.option("--keep", multiple=True, metavar="READING", help="Leave a reading's limits alone.")
@click.option("--from-recordings", is_flag=True, help="Read everything anew from the recordings.")
@click.option(
    "--new-reference", is_flag=True,
    help="Make the most typical unit the reference, and read all recordings by it.",
)  # fmt: skip
@click.option("--pattern", metavar="CURVE", help="Learn the population of a curve as well.")
@click.option(
    "--explained", type=click.FloatRange(0.0, 1.0, min_open=True, max_open=True),
    default=0.9, show_default=True, help="Share of the spread that its modes explain.",
)  # fmt: skip
@click.option(
    "--workers", type=click.IntRange(min=1, max=64), default=1, show_default=True,
    help="Processes that share the recordings.",
)  # fmt: skip
@click.option("--revision", help="The draft's revision.  [default: the one of BASE]")
@click.option("--holds-from", metavar="SERIAL", help="With which unit the draft's revision begins.")
@click.option("--author", help="Who stands for the draft.  [default: the one of BASE]")
@click.option("--reason", help="Why it is made.")
@logs_folder
@simulate
def learn(
    *,
    base: Path,
    out: Path,
    since: datetime | None,
    until: datetime | None,
    serials: str | None,
    also_failed: bool,
    coverage: float,
    confidence: float,
    slack: float,
    at_least: tuple[str, ...],
    keep: tuple[str, ...],
    from_recordings: bool,
    new_reference: bool,
    pattern: str | None,
    explained: float,
    workers: int,
    revision: str | None,
    holds_from: str | None,
    author: str | None,
    reason: str | None,
    logs: Path,
    simulate: bool,
) -> int:
    """Learn a draft OUT from good units, by the readings and sides of BASE."""
    from dataclasses import replace

    from station.cli.limits.learning import Wanted, learn_limits
    from station.quality.learning.learn import LearningRule

    rule = LearningRule(coverage, confidence, slack, least_widths(at_least), frozenset(keep))
    wanted = Wanted(
        from_recordings, new_reference, pattern, explained, workers, revision, holds_from, author,
        reason,
    )  # fmt: skip
    choice = replace(choice_of(since, until, serials, "newest"), passed_only=not also_failed)
    day = datetime.now(UTC).date()
    return learn_limits(base, out, choice, rule, wanted, logs, simulate=simulate, day=day)


def least_widths(words: tuple[str, ...]) -> dict[str, float]:
    """Return least half-widths by reading; refuse what is none."""
    widths = {}
    for word in words:
        reading, _, value = word.partition("=")
        try:
            widths[reading] = float(value)
        except ValueError:
            raise click.BadParameter(f"{word!r} is not READING=VALUE") from None
        if not reading or not widths[reading] > 0.0:
            raise click.BadParameter(f"{word!r} is not READING=VALUE, the value above zero")
    return widths


@click.command("engineer")
@limits_folder
@click.option("--draft", type=FILE, help="Begin with this file in place of the model's own.")
@charting
@logs_folder
@station_file
@simulate
@seed
def engineer(
    *,
    limits_folder: Path,
    draft: Path | None,
    references: tuple[str, ...],
    subgroup: int,
    baseline: int,
    logs: Path,
    station_file: Path | None,
    simulate: bool,
    seed: int,
) -> int:
    """Look at many units over their limits, move the limits by keys, study the gauge."""
    from station.cli.quality.engineer import Looks, run_engineer
    from station.cli.quality.gaugebench import BenchOptions

    bench = BenchOptions(limits_folder, logs, station_file, simulate, seed)
    return run_engineer(draft, bench, Looks(subgroup, baseline, references))


@click.command("forecast")
@click.argument("file", type=FILE)
@click.option(
    "--units", type=click.IntRange(min=100, max=200_000), default=10_000, show_default=True,
    help="How many units are drawn.",
)  # fmt: skip
@seed
@as_json
def forecast(*, file: Path, units: int, seed: int, as_json: bool) -> int:
    """Forecast spread and yield from the netlist's tolerances, before a unit is built."""
    from station.cli.limits.forecasting import forecast_production

    return forecast_production(file, units=units, seed=seed, as_json=as_json)
