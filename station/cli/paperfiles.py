"""Pages as files: the HTML always, the PDF where the libraries behind it are there."""

from __future__ import annotations

import re
from pathlib import Path

import click

from station.errors import RefusedInputError
from station.reports.pdf import pdf_of

NOT_IN_A_NAME = re.compile(r"[^A-Za-z0-9._-]+")


def write_page(folder: Path, name: str, page: str) -> None:
    """Write a page as HTML and as PDF, and say where; raise StationFaultError without the PDF."""
    stem = NOT_IN_A_NAME.sub("_", name)
    written(folder, f"{stem}.html", page.encode())
    written(folder, f"{stem}.pdf", pdf_of(page))


def written(folder: Path, name: str, contents: bytes) -> None:
    """Write a file whole or not at all, and say where."""
    path, unfinished = folder / name, folder / f".{name}.unfinished"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        unfinished.write_bytes(contents)
        unfinished.replace(path)
    except OSError as error:
        raise RefusedInputError(
            f"{path} cannot be written: {error.strerror}.", "Name another folder with --out."
        ) from error
    click.echo(str(path))
