"""Commands that calibrate the station."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal

import click

from station.cli.commands.options import (
    TEMPERATURE_C,
    as_json,
    logs_folder,
    pin_file,
    seed,
    simulate,
    station_file,
)


@click.group()
def calibrate() -> None:
    """Find what full scale of an input means, and keep it."""


def calibration_options(command: Callable[..., int]) -> Callable[..., int]:
    """Return a command with the options that both calibrations have."""
    options = (
        click.option("--by", required=True, metavar="NAME", help="Who calibrates."),
        pin_file,
        click.option(
            "--temperature", "temperature_c", type=TEMPERATURE_C, required=True,
            metavar="CELSIUS", help="Temperature at the microphone or the resistor.",
        ),
        click.option(
            "--fault", "faults", multiple=True, metavar="NAME=SEVERITY",
            help="Plant station_aged_microphone, station_aged_current or "
            "station_calibrator_error in the simulated station.",
        ),
        logs_folder,
        station_file,
        simulate,
        seed,
        as_json,
    )  # fmt: skip
    for option in reversed(options):  # the last one applied stands first in the help
        command = option(command)
    return command


@calibrate.command()
@click.option(
    "--level", type=click.Choice(["94", "114"]), required=True,
    help="Level of the calibrator on the microphone, in dB.",
)  # fmt: skip
@click.option(
    "--role", type=click.Choice(["microphone", "ambient", "rear"]), default="microphone",
    show_default=True, help="Which microphone.",
)  # fmt: skip
@calibration_options
def microphone(
    *, level: str, role: Literal["microphone", "ambient", "rear"], **options: Any
) -> int:
    """Calibrate a microphone by the calibrator that is on it."""
    from station.cli.keeping.calibration import CalibrationOptions, run_microphone

    return run_microphone(float(level), role, CalibrationOptions(**options))


@calibrate.command()
@click.option(
    "--resistor", "resistor_ohm", type=click.FloatRange(min=0.0, min_open=True), required=True,
    metavar="OHM", help="Resistance in place of the unit, leads included; it must bear the sweep.",
)  # fmt: skip
@calibration_options
def current(*, resistor_ohm: float, **options: Any) -> int:
    """Calibrate the current input by a known resistor."""
    from station.cli.keeping.calibration import CalibrationOptions, run_current

    return run_current(resistor_ohm, CalibrationOptions(**options))


@calibrate.command(name="history")
@logs_folder
@simulate
@as_json
def calibration_history(*, logs: Path, simulate: bool, as_json: bool) -> int:
    """Show every calibration, accepted or refused."""
    from station.cli.keeping.calibration import show_calibrations

    return show_calibrations(logs, simulate=simulate, as_json=as_json)
