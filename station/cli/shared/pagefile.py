"""Writing a page, or any other text that a command was asked for."""

from __future__ import annotations

from pathlib import Path

import click

from station.errors import RecordsError


def write_page(path: Path, text: str) -> None:
    """Write a file and say so on the error stream, so that `--json` stays alone on the other."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise RecordsError(
            f"{path} cannot be written: {error.strerror}.", "Choose another place."
        ) from error
    click.echo(f"Written: {path}", err=True)
