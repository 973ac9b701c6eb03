"""`station replay`: whether each run of a unit still comes to its verdict."""

from __future__ import annotations

import json
from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.cli.shared.tables import plain_table
from station.cli.wiring.openlog import folder_with_log
from station.cycle.stored.replay import Replay, replayed
from station.errors import RefusedInputError
from station.records.log.log import RunLog
from station.service.builtlimits import ARCHIVE_NAME

FORMAT = 1
HEADERS = ("UTC", "model", "stored", "again", "")
WIDTHS = (19, None, None, None, 60)


def replay_unit(
    serial: str, logs: Path, limits_folder: Path, *, simulate: bool, as_json: bool
) -> int:
    """Judge every run of a serial number again by what was stored with it."""
    folder = folder_with_log(logs, simulate=simulate)
    with RunLog.open(folder) as log:
        runs = log.runs_of(serial)
        if not runs:
            raise RefusedInputError(f"No run of {serial!r} is in {folder}.", "Check the serial.")
        places = (limits_folder, limits_folder / ARCHIVE_NAME)
        found = [replayed(log, run, places) for run in runs]
    if as_json:
        for one in found:
            click.echo(json.dumps(as_object(one), ensure_ascii=False))
    else:
        click.echo(plain_table(HEADERS, [row_of(one) for one in found], WIDTHS))
    return exit_of(found)


def exit_of(found: list[Replay]) -> int:
    """Return whether all that could be judged again came out as stored."""
    judged = [one for one in found if one.again is not None]
    if not judged:
        return Exit.REFUSED
    return Exit.PASS if all(one.same for one in judged) else Exit.FAIL


def row_of(one: Replay) -> tuple[str, str, str, str, str]:
    """Return a run for the table."""
    run = one.run
    return (
        f"{run.started_utc:%Y-%m-%d %H:%M:%S}",
        f"{run.model} {run.revision}",
        run.judgement.verdict.value.upper(),
        "-" if one.again is None else one.again.verdict.value.upper(),
        words_of(one),
    )


def words_of(one: Replay) -> str:
    """Return how a run came out again, in a sentence."""
    if one.again is None:
        return one.why_not
    if not one.same:
        return f"Otherwise: {one.again.next_step}"
    if not one.moved:
        return "The same, every number to the last bit."
    return f"The same verdict; otherwise in their last bits: {', '.join(one.moved)}."


def as_object(one: Replay) -> dict[str, object]:
    """Return a run as an object of JSON; its keys stand in DEVELOPERS.md."""
    return {
        "format": FORMAT,
        "run": one.run.run_id,
        "serial": one.run.serial,
        "utc": one.run.started_utc.isoformat(),
        "stored": one.run.judgement.verdict.value,
        "again": None if one.again is None else one.again.verdict.value,
        "same": None if one.again is None else one.same,
        "moved": list(one.moved),
        "why_not": one.why_not or None,
    }
