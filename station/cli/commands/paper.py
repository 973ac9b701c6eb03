"""Commands that write what is printed at the line."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from station.cli.commands.log import INSTANT, SHIFT
from station.cli.commands.options import FOLDER, limits_folder, logs_folder, simulate


def paper_options(command: Callable[..., int]) -> Callable[..., int]:
    """Return a command with the options that all papers have."""
    options = (
        click.option(
            "--out", type=FOLDER, default=Path(), show_default="here",
            help="Folder for the HTML page and the PDF.",
        ),
        click.option(
            "--language", type=click.Choice(["en", "de"]), default="en", show_default=True,
            help="Language of the paper.",
        ),
        click.option(
            "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True,
            help="Size of the paper.",
        ),
        limits_folder,
        logs_folder,
        simulate,
    )  # fmt: skip
    for option in reversed(options):  # the last one applied stands first in the help
        command = option(command)
    return command


@click.command()
@click.argument("serial")
@paper_options
def certificate(*, serial: str, **options: Any) -> int:
    """Write the certificate of a unit that passed."""
    from station.cli.service.paper import PaperOptions, print_certificate

    return print_certificate(serial, PaperOptions(**options))


@click.command("rework-card")
@click.argument("serial")
@paper_options
def rework_card(*, serial: str, **options: Any) -> int:
    """Write the card that goes with a failed unit."""
    from station.cli.service.paper import PaperOptions, print_rework_card

    return print_rework_card(serial, PaperOptions(**options))


@click.command()
@click.argument("serial")
@paper_options
def label(*, serial: str, **options: Any) -> int:
    """Write the label of a unit that passed."""
    from station.cli.service.paper import PaperOptions, print_label

    return print_label(serial, PaperOptions(**options))


@click.command("shift-page")
@click.option("--from", "begin", type=INSTANT, help="UTC; without it, 8 hours before the end.")
@click.option("--to", "end", type=INSTANT, help="UTC; without it, now.")
@paper_options
def shift_page(*, begin: datetime | None, end: datetime | None, **options: Any) -> int:
    """Write the shift report for the line lead."""
    from station.cli.service.paper import PaperOptions, print_shift

    to_utc = datetime.now(UTC) if end is None else end.replace(tzinfo=UTC)
    from_utc = to_utc - SHIFT if begin is None else begin.replace(tzinfo=UTC)
    return print_shift(from_utc, to_utc, PaperOptions(**options))
