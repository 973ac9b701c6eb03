"""Commands that keep the station in order."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from station.cli.commands.options import (
    FOLDER,
    as_json,
    limits_folder,
    logs_folder,
    simulate,
    station_file,
)


@click.command()
@limits_folder
@logs_folder
@station_file
def doctor(*, limits_folder: Path, logs: Path, station_file: Path | None) -> int:
    """Say what is there, what is missing, how to mend it."""
    from station.cli.keeping.doctor import examine

    return examine(limits_folder, logs, station_file)


@click.command("verify-log")
@click.option(
    "--tip", "tips", multiple=True, metavar="HASH",
    help="A hash from paper, or its first 12 digits or more: is that entry in the log?",
)  # fmt: skip
@click.option(
    "--recordings/--no-recordings", default=True, show_default=True,
    help="Read every recording again, too.",
)  # fmt: skip
@click.option(
    "--mend", is_flag=True,
    help="Set a database aside that is not as it was written, and go on with the rest of it.",
)  # fmt: skip
@logs_folder
@simulate
@as_json
def verify_log(
    *,
    tips: tuple[str, ...],
    recordings: bool,
    mend: bool,
    logs: Path,
    simulate: bool,
    as_json: bool,
) -> int:
    """Prove that nothing in the log was changed."""
    from station.cli.keeping.verifying import mend_log, prove_log

    if mend:
        return mend_log(logs, simulate=simulate)
    return prove_log(logs, tips, simulate=simulate, recordings=recordings, as_json=as_json)


@click.command()
@click.argument("target", type=FOLDER)
@logs_folder
@simulate
def backup(*, target: Path, logs: Path, simulate: bool) -> int:
    """Copy the log while the line runs, and try the copy."""
    from station.cli.keeping.keepingrecords import make_backup

    return make_backup(logs, target, simulate=simulate)


@click.command("let-go")
@click.option(
    "--verdict", "verdicts", multiple=True, required=True,
    type=click.Choice(("pass", "fail", "void")), help="Of runs that ended so; may be repeated.",
)  # fmt: skip
@click.option(
    "--older-than", "days", required=True, metavar="DAYS", type=click.FloatRange(min=0.0),
    help="Of runs older than this.",
)  # fmt: skip
@click.option(
    "--keep", default=0, show_default=True, type=click.IntRange(min=0),
    help="So many of the newest ones stay, however old.",
)  # fmt: skip
@click.option("--dry-run", is_flag=True, help="Only say which; delete nothing.")
@logs_folder
@simulate
def let_go(
    *, verdicts: tuple[str, ...], days: float, keep: int, dry_run: bool, logs: Path, simulate: bool
) -> int:
    """Delete recordings by a rule; results stay for ever."""
    from station.cli.keeping.keepingrecords import let_recordings_go, rule_of

    rule = rule_of(verdicts, days, keep)
    return let_recordings_go(logs, rule, datetime.now(UTC), simulate=simulate, dry_run=dry_run)


@click.command(context_settings={"ignore_unknown_options": True})
@click.option("--user", required=True, metavar="NAME", help="Who runs the station.")
@click.option(
    "--console", default="tty1", show_default=True, help="The console that shows the screen."
)
@click.argument("arguments", nargs=-1, type=click.UNPROCESSED, metavar="[OPTION OF RUN]...")
def autostart(*, user: str, console: str, arguments: tuple[str, ...]) -> int:
    """Print a service file that starts the operator's screen with the computer."""
    from station.cli.keeping.autostart import print_service_file

    return print_service_file(user, console, arguments)
