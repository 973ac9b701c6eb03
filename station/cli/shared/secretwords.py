"""PINs and passphrases: asked for without showing them, or read from a file or a pipe."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from station.errors import RefusedInputError


def secret(what: str, file: Path | None, *, twice: bool = False) -> str:
    """Return a secret from the first line of a file, of a pipe, or from the keyboard.

    `what` is how the prompt calls it; `twice` asks again, for one that is new.
    """
    if file is not None:
        try:
            line = file.read_text(encoding="utf-8").partition("\n")[0]
        except (OSError, UnicodeDecodeError) as error:
            raise RefusedInputError(
                f"{file} cannot be read as text.", f"Put the {what} into its first line."
            ) from error
    elif sys.stdin.isatty():
        line = click.prompt(what, hide_input=True, confirmation_prompt=twice, type=str)
    else:
        line = sys.stdin.readline()
    found = line.rstrip("\r\n")
    if not found:
        raise RefusedInputError(f"No {what} was given.", "Type it, or name a file that holds it.")
    return found
