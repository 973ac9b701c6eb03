"""Options that several commands have, and the kinds of arguments."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

AnyFunction = TypeVar("AnyFunction", bound=Callable[..., Any])

FOLDER = click.Path(path_type=Path, file_okay=False)
FILE = click.Path(path_type=Path, dir_okay=False)

limits_folder = click.option(
    "--limits-folder", type=FOLDER, default=Path("limits"), show_default=True,
    help="Folder of the limit files.",
)  # fmt: skip
logs_folder = click.option(
    "--logs", type=FOLDER, default=Path("logs"), show_default=True,
    help="Folder of the log; simulated runs go to its subfolder 'simulated'.",
)  # fmt: skip
station_file = click.option(
    "--station-file", type=FILE, show_default=".station.toml; the shipped one with --simulate",
    help="The station file: device, inputs, scale factors, calibration.",
)  # fmt: skip
TEMPERATURE_C = click.FloatRange(-20.0, 60.0)
noted_temperature = click.option(
    "--temperature", "temperature_c", type=TEMPERATURE_C, metavar="CELSIUS",
    help="Temperature at the unit, noted with every run.",
)  # fmt: skip
simulate = click.option("--simulate", is_flag=True, help="Use simulated hardware.")
seed = click.option(
    "--seed", type=int, default=1, show_default=True, help="Seed of the simulated production."
)
as_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON object per run.")
by_engineer = click.option("--by", metavar="NAME", required=True, help="The engineer who does it.")
pin_file = click.option(
    "--pin-file", type=FILE, help="File with the PIN in its first line, instead of being asked."
)
trial = click.option(
    "--trial", is_flag=True,
    help="Let limit files judge that are not released; such runs never count as production.",
)  # fmt: skip
by_skilled = click.option(
    "--by", metavar="NAME", help="Who makes the trial, where the station file has roles."
)
badge = click.option(
    "--badge", metavar="TEXT", help="The operator's badge, where the station file has roles."
)
CHARTING = (
    click.option(
        "--reference", "references", multiple=True, metavar="SERIAL",
        help="A reference unit, besides those the station files name.",
    ),
    click.option(
        "--subgroup", type=click.IntRange(2, 50), default=5, show_default=True,
        help="Units one after another that make a subgroup.",
    ),
    click.option(
        "--baseline", type=click.IntRange(min=20), default=100, show_default=True,
        help="Units, the first of the span, whose good ones set the limits of charts.",
    ),
)  # fmt: skip


def charting(function: AnyFunction) -> AnyFunction:
    """Add the options of whatever charts production."""
    for option in reversed(CHARTING):  # the last one applied stands first in the help
        function = option(function)
    return function
