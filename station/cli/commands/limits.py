"""Commands for limit files."""

from __future__ import annotations

from pathlib import Path

import click

from station.cli.commands.options import (
    FILE,
    FOLDER,
    as_json,
    by_engineer,
    logs_folder,
    pin_file,
    seed,
    simulate,
)


@click.group()
def limits() -> None:
    """Work on limit files."""


@limits.command()
@click.argument("files", nargs=-1, required=True, type=FILE)
def check(*, files: tuple[Path, ...]) -> int:
    """Check limit files; every fault is named with its line."""
    from station.cli.limits.checking import check_limit_files

    return check_limit_files(files)


@limits.command()
@click.argument("file", type=FILE)
@click.option("--key", type=FILE, required=True, help="The private key, see 'station keys make'.")
@by_engineer
@pin_file
@click.option(
    "--passphrase-file", type=FILE,
    help="File with the key's passphrase in its first line, instead of being asked.",
)  # fmt: skip
@logs_folder
@simulate
def release(
    *,
    file: Path,
    key: Path,
    by: str,
    pin_file: Path | None,
    passphrase_file: Path | None,
    logs: Path,
    simulate: bool,
) -> int:
    """Release a limit file: from then on no byte of it may change."""
    from station.cli.limits.releasing import release_file

    return release_file(file, key, by, pin_file, passphrase_file, logs, simulate=simulate)


@limits.command()
@click.argument("old", type=FILE)
@click.argument("new", type=FILE)
def diff(*, old: Path, new: Path) -> int:
    """Tell in words what changed from one limit file to another."""
    from station.cli.limits.revisions import show_differences

    return show_differences(old, new)


@limits.command()
@logs_folder
@simulate
@as_json
def releases(*, logs: Path, simulate: bool, as_json: bool) -> int:
    """Show every release: by whom, when, why, and what changed."""
    from station.cli.limits.revisions import show_releases

    return show_releases(logs, simulate=simulate, as_json=as_json)


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
    from station.cli.limits.patternlearning import learn_pattern

    return learn_pattern(file, out, curve, explained, logs, simulate=simulate)


@click.command()
@click.option("--limits", type=FILE, required=True, help="The limit file to study.")
@click.option(
    "--units", type=click.IntRange(min=0), default=400, show_default=True,
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
    "--faults", default="all", show_default=True, metavar="NAME,NAME=SEVERITY",
    help="Faults to study, each at many severities or at one, or none; "
    "'station test --fault list' shows all.",
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
    from station.cli.limits.power import study_power

    return study_power(
        limits,
        units=units, per_rung=per_rung, workers=workers, seed=seed, faults=faults, out=out,
        as_json=as_json,
    )  # fmt: skip
