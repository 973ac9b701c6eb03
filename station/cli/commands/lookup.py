"""Commands that find runs and set them beside each other."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from station.cli.commands.log import INSTANT
from station.cli.commands.options import FOLDER, as_json, limits_folder, logs_folder, simulate


@click.command()
@click.argument("fragment", required=False, default="")
@click.option("--model", default="", help="A part of the model's name.")
@click.option("--verdict", type=click.Choice(["pass", "fail", "void"]))
@click.option("--cause", default="", help="A part of a reading's name or of a cause's sentence.")
@click.option("--from", "begin", type=INSTANT, help="UTC, included.")
@click.option("--to", "end", type=INSTANT, help="UTC, not included.")
@click.option("--most", type=click.IntRange(min=1), default=50, show_default=True)
@logs_folder
@simulate
@as_json
def find(
    *,
    fragment: str,
    model: str,
    verdict: str | None,
    cause: str,
    begin: datetime | None,
    end: datetime | None,
    most: int,
    logs: Path,
    simulate: bool,
    as_json: bool,
) -> int:
    """Find runs by a part of the serial number, model, verdict, cause or time."""
    from station.cli.service.finding import show_found
    from station.judging.verdicts.verdict import Verdict
    from station.records.log.lookup import Wanted

    wanted = Wanted(
        serial=fragment,
        model=model,
        verdict=None if verdict is None else Verdict(verdict),
        cause=cause,
        since=None if begin is None else begin.replace(tzinfo=UTC),
        until=None if end is None else end.replace(tzinfo=UTC),
    )
    return show_found(wanted, most, logs, simulate=simulate, as_json=as_json)


@click.command()
@click.argument("serial")
@limits_folder
@logs_folder
@simulate
@as_json
def replay(*, serial: str, limits_folder: Path, logs: Path, simulate: bool, as_json: bool) -> int:
    """Judge the stored recordings of a unit again, by the limits stored with each run."""
    from station.cli.service.replaying import replay_unit

    return replay_unit(serial, logs, limits_folder, simulate=simulate, as_json=as_json)


@click.command()
@click.argument("runs", nargs=-1, required=True, metavar="RUN_OR_SERIAL…")
@click.option("--curve", default="response", show_default=True, help="The curve to draw here.")
@click.option("--out", type=FOLDER, help="Folder for a page with all curves, HTML and PDF.")
@click.option("--language", type=click.Choice(["en", "de"]), default="en", show_default=True)
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@logs_folder
@simulate
def compare(
    *,
    runs: tuple[str, ...],
    curve: str,
    out: Path | None,
    language: str,
    paper: str,
    logs: Path,
    simulate: bool,
) -> int:
    """Draw any runs on one plot, 2 to 6 of them."""
    from station.cli.service.comparing import compare_runs

    return compare_runs(runs, curve, logs, out, language, paper, simulate=simulate)
