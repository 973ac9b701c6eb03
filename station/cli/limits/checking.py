"""`station limits check`: every fault of every file, each with its line."""

from __future__ import annotations

from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.errors import TextFileError
from station.judging.files.limit_file import limit_file


def check_limit_files(files: tuple[Path, ...]) -> int:
    """Check limit files and say what is wrong with each."""
    refused = False
    for path in files:
        try:
            limits, _ = limit_file(path)
        except TextFileError as error:
            refused = True
            click.echo("\n".join(error.faults) or error.happened, err=True)
            continue
        model = limits.model
        click.echo(
            f"{path}: good: {model.name} revision {model.revision}, {len(limits.bands)} bands, "
            f"{len(limits.numbers)} numbers, {len(limits.advice)} pieces of advice"
        )
    return Exit.REFUSED if refused else Exit.PASS
