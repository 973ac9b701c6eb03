"""Commands that test a unit, or judge a recording of one."""

from __future__ import annotations

from pathlib import Path

import click

from station.cli.commands.options import (
    FILE,
    as_json,
    badge,
    by_skilled,
    limits_folder,
    logs_folder,
    noted_temperature,
    pin_file,
    seed,
    simulate,
    station_file,
    trial,
)


@click.command()
@limits_folder
@logs_folder
@seed
@trial
def demo(*, limits_folder: Path, logs: Path, seed: int, trial: bool) -> int:
    """Test a small simulated batch with planted faults."""
    from station.cli.line.demo import run_demo

    return run_demo(limits_folder, logs, seed, trial=trial)


@click.command()
@limits_folder
@logs_folder
@station_file
@simulate
@seed
@noted_temperature
@trial
@by_skilled
@pin_file
def run(
    *,
    limits_folder: Path,
    logs: Path,
    station_file: Path | None,
    simulate: bool,
    seed: int,
    temperature_c: float | None,
    trial: bool,
    by: str | None,
    pin_file: Path | None,
) -> int:
    """Open the operator's screen."""
    from station.cli.line.line import run_line
    from station.cli.wiring.rights import AskedRights

    return run_line(
        limits_folder, logs, station_file, AskedRights(trial, by, pin_file),
        simulate=simulate, seed=seed, temperature_c=temperature_c,
    )  # fmt: skip


@click.command()
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
@badge
@trial
@by_skilled
@pin_file
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
    badge: str | None,
    trial: bool,
    by: str | None,
    pin_file: Path | None,
    as_json: bool,
) -> int:
    """Test the unit in the fixture once, without a screen."""
    from station.cli.line.single import run_single
    from station.cli.wiring.rights import AskedRights

    return run_single(
        serial, limits_folder, logs, station_file, AskedRights(trial, by, pin_file, badge),
        simulate=simulate, seed=seed, faults=faults, temperature_c=temperature_c, as_json=as_json,
    )  # fmt: skip


@click.command()
@click.argument("serial")
@click.option(
    "--angles", default="-15,0,15", show_default=True, metavar="DEGREES,...",
    help="Where to listen; 0, the axis, must be among them.",
)  # fmt: skip
@limits_folder
@station_file
@simulate
@seed
@as_json
def window(
    *,
    serial: str,
    angles: str,
    limits_folder: Path,
    station_file: Path | None,
    simulate: bool,
    seed: int,
    as_json: bool,
) -> int:
    """Hear a unit at several angles of the turntable; nothing is stored."""
    from station.cli.line.window import show_window

    return show_window(
        serial, angles, limits_folder, station_file,
        simulate=simulate, seed=seed, as_json=as_json,
    )  # fmt: skip


@click.command()
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--limits", type=FILE, required=True, help="The limit file to judge by.")
@as_json
def judge(*, paths: tuple[Path, ...], limits: Path, as_json: bool) -> int:
    """Judge recordings, whoever made them; nothing is stored."""
    from station.cli.line.rejudging import judge_paths

    return judge_paths(paths, limits, as_json=as_json)


@click.command()
@click.argument("out", type=FILE)
@click.option("--limits", type=FILE, required=True, help="The limit file whose sweep to write.")
@click.option(
    "--full-scale-v", type=click.FloatRange(min=0.0, min_open=True),
    help="Voltage at the terminals for sample value 1.0; without it, the sweep's own peak.",
)  # fmt: skip
def stimulus(*, out: Path, limits: Path, full_scale_v: float | None) -> int:
    """Write the exact excitation as a file, and a sidecar."""
    from station.cli.line.excitation import write_stimulus

    return write_stimulus(out, limits, full_scale_v)
