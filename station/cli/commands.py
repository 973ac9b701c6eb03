"""The commands and their options; each imports what it needs only when it runs.

`station --help` must answer at once, and scipy and textual take far longer to import than it
takes to read this file. So nothing heavy is imported here: hence the imports inside functions.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal

import click

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


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="station", prog_name="station")
def station() -> None:
    """Test finished loudspeakers at the end of the line.

    Exit codes: 0 pass or done, 1 fail, 2 wrong use or refused input, 3 void, 4 station fault.
    """


@station.command()
@limits_folder
@logs_folder
@seed
def demo(*, limits_folder: Path, logs: Path, seed: int) -> int:
    """Test a small simulated batch with planted faults."""
    from station.cli.demo import run_demo

    return run_demo(limits_folder, logs, seed)


@station.command()
@limits_folder
@logs_folder
@station_file
@simulate
@seed
@noted_temperature
def run(
    *,
    limits_folder: Path,
    logs: Path,
    station_file: Path | None,
    simulate: bool,
    seed: int,
    temperature_c: float | None,
) -> int:
    """Open the operator's screen."""
    from station.cli.line import run_line

    return run_line(
        limits_folder, logs, station_file,
        simulate=simulate, seed=seed, temperature_c=temperature_c,
    )  # fmt: skip


@station.command()
@click.argument("serial")
@limits_folder
@logs_folder
@station_file
@simulate
@seed
@click.option(
    "--fault", "faults", multiple=True, metavar="NAME=SEVERITY",
    help="Plant a fault in the simulated unit; 'list' shows all.",
)  # fmt: skip
@noted_temperature
@as_json
def test(
    *,
    serial: str,
    limits_folder: Path,
    logs: Path,
    station_file: Path | None,
    simulate: bool,
    seed: int,
    faults: tuple[str, ...],
    temperature_c: float | None,
    as_json: bool,
) -> int:
    """Test the unit in the fixture once, without a screen."""
    from station.cli.single import run_single

    return run_single(
        serial, limits_folder, logs, station_file,
        simulate=simulate, seed=seed, faults=faults, temperature_c=temperature_c, as_json=as_json,
    )  # fmt: skip


@station.command()
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--limits", type=FILE, required=True, help="The limit file to judge by.")
@as_json
def judge(*, paths: tuple[Path, ...], limits: Path, as_json: bool) -> int:
    """Judge recordings, whoever made them; nothing is stored."""
    from station.cli.rejudging import judge_paths

    return judge_paths(paths, limits, as_json=as_json)


@station.command()
@click.argument("out", type=FILE)
@click.option("--limits", type=FILE, required=True, help="The limit file whose sweep to write.")
@click.option(
    "--full-scale-v", type=click.FloatRange(min=0.0, min_open=True),
    help="Voltage at the terminals for sample value 1.0; without it, the sweep's own peak.",
)  # fmt: skip
def stimulus(*, out: Path, limits: Path, full_scale_v: float | None) -> int:
    """Write the exact excitation as a file, and a sidecar."""
    from station.cli.excitation import write_stimulus

    return write_stimulus(out, limits, full_scale_v)


@station.command()
@click.argument("serial")
@logs_folder
@simulate
@as_json
def history(*, serial: str, logs: Path, simulate: bool, as_json: bool) -> int:
    """Show every run of a serial number."""
    from station.cli.history import show_history

    return show_history(serial, logs, simulate=simulate, as_json=as_json)


@station.command()
@click.argument("first_serial", metavar="SERIAL")
@click.argument("second_serial", metavar="SERIAL")
@logs_folder
@simulate
@as_json
def pair(
    *, first_serial: str, second_serial: str, logs: Path, simulate: bool, as_json: bool
) -> int:
    """Show how alike two tested units are."""
    from station.cli.pairing import show_pair

    return show_pair(first_serial, second_serial, logs, simulate=simulate, as_json=as_json)


@station.group()
def limits() -> None:
    """Work on limit files."""


@limits.command()
@click.argument("files", nargs=-1, required=True, type=FILE)
def check(*, files: tuple[Path, ...]) -> int:
    """Check limit files; every fault is named with its line."""
    from station.cli.checking import check_limit_files

    return check_limit_files(files)


@limits.command()
@click.argument("file", type=FILE)
@click.argument("out", type=FILE)
@click.option("--curve", default="response", show_default=True, help="The curve to learn.")
@click.option(
    "--explained", type=click.FloatRange(0.0, 1.0, min_open=True, max_open=True),
    default=0.9, show_default=True, help="Share of the spread that the modes explain.",
)  # fmt: skip
@logs_folder
@simulate
def pattern(
    *, file: Path, out: Path, curve: str, explained: float, logs: Path, simulate: bool
) -> int:
    """Learn a model's population from its passed units."""
    from station.cli.patternlearning import learn_pattern

    return learn_pattern(file, out, curve, explained, logs, simulate=simulate)


@station.group()
def calibrate() -> None:
    """Find what full scale of an input means, and keep it."""


def calibration_options(command: Callable[..., int]) -> Callable[..., int]:
    """Return a command with the options that both calibrations have."""
    options = (
        click.option("--by", required=True, metavar="NAME", help="Who calibrates."),
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
    from station.cli.calibration import CalibrationOptions, run_microphone

    return run_microphone(float(level), role, CalibrationOptions(**options))


@calibrate.command()
@click.option(
    "--resistor", "resistor_ohm", type=click.FloatRange(min=0.0, min_open=True), required=True,
    metavar="OHM", help="Resistance in place of the unit, leads included; it must bear the sweep.",
)  # fmt: skip
@calibration_options
def current(*, resistor_ohm: float, **options: Any) -> int:
    """Calibrate the current input by a known resistor."""
    from station.cli.calibration import CalibrationOptions, run_current

    return run_current(resistor_ohm, CalibrationOptions(**options))


@calibrate.command(name="history")
@logs_folder
@simulate
@as_json
def calibration_history(*, logs: Path, simulate: bool, as_json: bool) -> int:
    """Show every calibration, accepted or refused."""
    from station.cli.calibration import show_calibrations

    return show_calibrations(logs, simulate=simulate, as_json=as_json)


@station.command()
@click.option("--limits", type=FILE, required=True, help="The limit file to study.")
@click.option(
    "--units", type=click.IntRange(min=1), default=400, show_default=True,
    help="Good units, for the share rejected by mistake.",
)  # fmt: skip
@click.option(
    "--per-rung", type=click.IntRange(min=1), default=20, show_default=True,
    help="Units at each severity of each fault.",
)  # fmt: skip
@click.option(
    "--workers", type=click.IntRange(min=1, max=64), default=1, show_default=True,
    help="Processes that share the work.",
)  # fmt: skip
@seed
@click.option(
    "--faults", default="all", show_default=True, metavar="NAME,NAME",
    help="Faults to study; 'station test --fault list' shows all.",
)  # fmt: skip
@click.option(
    "--out", type=FOLDER, help="Folder for results, data and a page; a stopped study goes on there."
)
@as_json
def power(
    *,
    limits: Path,
    units: int,
    per_rung: int,
    workers: int,
    seed: int,
    faults: str,
    out: Path | None,
    as_json: bool,
) -> int:
    """Study how well a limit file finds faults, on simulated units."""
    from station.cli.power import study_power

    return study_power(
        limits,
        units=units, per_rung=per_rung, workers=workers, seed=seed, faults=faults, out=out,
        as_json=as_json,
    )  # fmt: skip


@station.command()
@limits_folder
@logs_folder
@station_file
def doctor(*, limits_folder: Path, logs: Path, station_file: Path | None) -> int:
    """Say what is there, what is missing, how to mend it."""
    from station.cli.doctor import examine

    return examine(limits_folder, logs, station_file)
