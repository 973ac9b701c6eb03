"""Run the command line; the one place where errors become a sentence on the terminal."""

from __future__ import annotations

import traceback
from pathlib import Path
from tempfile import gettempdir

import click

from station.cli.commands.root import station
from station.cli.shared.exitcodes import Exit
from station.errors import RefusedInputError, StationError


def exit_code_of(arguments: list[str]) -> int:
    """Run the command line and return its exit code; errors are told on the error stream."""
    try:
        outcome = station.main(arguments, prog_name="station", standalone_mode=False)
    except click.exceptions.Exit as leaving:
        return leaving.exit_code
    except click.ClickException as error:
        error.show()
        return Exit.REFUSED
    except (click.Abort, KeyboardInterrupt):
        click.echo("Stopped by the keyboard.", err=True)
        return Exit.FAULT
    except StationError as error:
        click.echo(f"{error.happened} {error.remedy}", err=True)
        return Exit.REFUSED if isinstance(error, RefusedInputError) else Exit.FAULT
    except Exception as error:  # noqa: BLE001 - a bug must not leave with 1, which means FAIL
        click.echo(fault_sentence(error), err=True)
        return Exit.FAULT
    return outcome if isinstance(outcome, int) else Exit.PASS


def fault_sentence(error: Exception) -> str:
    """Keep the traceback of a fault of the program itself, and return what to tell."""
    path = Path(gettempdir()) / "station-fault.txt"
    words = "".join(traceback.format_exception(error))
    try:
        path.write_text(words, encoding="utf-8")
    except OSError:
        return f"Station fault, not a result of the unit: {error!r}\n{words}"
    return (
        f"Station fault, not a result of the unit: {error!r}. "
        f"Send {path} to whoever keeps the station."
    )
