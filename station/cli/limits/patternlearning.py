"""`station limits pattern`: learn how a model's production varies; decides nothing by itself."""

from __future__ import annotations

from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.cli.wiring.wiring import log_folder
from station.cycle.stored.population import learned_pattern
from station.errors import RecordsError, RefusedInputError
from station.judging.files.limit_file import limit_file
from station.judging.files.patternfile import write_pattern
from station.records.log.log import RunLog


def learn_pattern(
    limits_path: Path,
    out: Path,
    curve: str,
    explained_ratio: float,
    logs: Path,
    *,
    simulate: bool,
) -> int:
    """Write the pattern file, and tell the lines by which a limit file would use it."""
    if out.exists():
        raise RefusedInputError(
            f"{out} exists, and a limit file may name it.", "Choose another name for the new one."
        )
    limits, _ = limit_file(limits_path)
    folder = log_folder(logs, simulated=simulate)
    if not (folder / "station.db").exists():
        raise RefusedInputError(f"There is no log in {folder}.", "Name its folder with --logs.")
    with RunLog.open(folder) as log:
        learned = learned_pattern(log, limits, curve, explained_ratio)
    try:
        sha256 = write_pattern(out, learned.pattern)
    except OSError as error:
        raise RecordsError(f"{out} cannot be written: {error.strerror}.", "Choose a place.") from (
            error
        )
    members = len(learned.pattern.model.member_ids)
    click.echo(
        f"{out}: {curve} of {members} units; left out {learned.not_passed} that did not pass "
        f"and {learned.other_frequencies} read at other frequencies."
    )
    click.echo("It decides nothing until a new revision of the limit file, beside it, says:\n")
    click.echo(f'[readings.pattern]\nfile = "{out.name}"\nsha256 = "{sha256}"\ncurve = "{curve}"')
    return Exit.PASS
