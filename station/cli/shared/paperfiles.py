"""Pages as files: the HTML always, the PDF where the libraries behind it are there."""

from __future__ import annotations

import re
from pathlib import Path

from station.errors import RefusedInputError
from station.reports.pdf import pdf_of

NOT_IN_A_NAME = re.compile(r"[^A-Za-z0-9._-]+")


def write_page(folder: Path, name: str, page: str) -> tuple[Path, ...]:
    """Write a page as HTML and as PDF, and return where.

    Raises
    ------
    RefusedInputError
        If the folder cannot be written.
    StationFaultError
        If the libraries behind PDF are missing; the HTML page is there then.
    """
    stem = NOT_IN_A_NAME.sub("_", name)
    as_page = written(folder, f"{stem}.html", page.encode())
    return as_page, written(folder, f"{stem}.pdf", pdf_of(page))


def written(folder: Path, name: str, contents: bytes) -> Path:
    """Write a file whole or not at all, and return where."""
    path, unfinished = folder / name, folder / f".{name}.unfinished"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        unfinished.write_bytes(contents)
        unfinished.replace(path)
    except OSError as error:
        raise RefusedInputError(
            f"{path} cannot be written: {error.strerror}.", "Name another folder with --out."
        ) from error
    return path
