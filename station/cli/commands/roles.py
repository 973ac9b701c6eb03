"""Commands for people with their roles, and for the keys that release limits."""

from __future__ import annotations

from pathlib import Path

import click

from station.cli.commands.options import (
    FILE,
    as_json,
    by_engineer,
    logs_folder,
    pin_file,
    simulate,
)

PASSPHRASE_HELP = "File with the passphrase in its first line, instead of being asked."


@click.group()
def people() -> None:
    """Say who is operator, technician or engineer."""


@people.command()
@click.argument("name")
@click.option(
    "--role", type=click.Choice(["operator", "technician", "engineer"]), required=True,
    help="Operators sign in by badge; technicians and engineers by PIN.",
)  # fmt: skip
@click.option("--badge", default="", metavar="TEXT", help="What the label of the badge holds.")
@click.option("--by", metavar="NAME", help="The engineer who does it; not for the very first one.")
@pin_file
@click.option("--new-pin-file", type=FILE, help="File with the new PIN, instead of being asked.")
@logs_folder
@simulate
def add(
    *,
    name: str,
    role: str,
    badge: str,
    by: str | None,
    pin_file: Path | None,
    new_pin_file: Path | None,
    logs: Path,
    simulate: bool,
) -> int:
    """Enrol somebody, or anew with another role, badge or PIN."""
    from station.cli.keeping.people import add_person

    return add_person(name, role, badge, by, pin_file, new_pin_file, logs, simulate=simulate)


@people.command()
@click.argument("name")
@by_engineer
@pin_file
@logs_folder
@simulate
def remove(*, name: str, by: str, pin_file: Path | None, logs: Path, simulate: bool) -> int:
    """Remove somebody; what was done stays in the log."""
    from station.cli.keeping.people import remove_person

    return remove_person(name, by, pin_file, logs, simulate=simulate)


@people.command(name="list")
@logs_folder
@simulate
def list_people(*, logs: Path, simulate: bool) -> int:
    """Show who is enrolled."""
    from station.cli.keeping.people import show_people

    return show_people(logs, simulate=simulate)


@people.command()
@logs_folder
@simulate
@as_json
def acts(*, logs: Path, simulate: bool, as_json: bool) -> int:
    """Show what was done by right of a role, and what was refused."""
    from station.cli.keeping.people import show_acts

    return show_acts(logs, simulate=simulate, as_json=as_json)


@click.group()
def keys() -> None:
    """Work on the keys that release limit files."""


@keys.command()
@click.argument("file", type=FILE)
@click.option("--passphrase-file", type=FILE, help=PASSPHRASE_HELP)
def make(*, file: Path, passphrase_file: Path | None) -> int:
    """Make a key: FILE is the private half, FILE.pub the public one."""
    from station.cli.limits.releasekeys import make_release_key

    return make_release_key(file, passphrase_file)


@keys.command()
@click.argument("file", metavar="FILE.pub", type=FILE)
@by_engineer
@pin_file
@logs_folder
@simulate
def trust(*, file: Path, by: str, pin_file: Path | None, logs: Path, simulate: bool) -> int:
    """Believe the releases of a key from now on."""
    from station.cli.limits.releasekeys import trust_key

    return trust_key(file, by, pin_file, logs, simulate=simulate)


@keys.command()
@click.argument("fingerprint")
@click.option("--reason", required=True, help="Why, for the log.")
@by_engineer
@pin_file
@logs_folder
@simulate
def distrust(
    *, fingerprint: str, reason: str, by: str, pin_file: Path | None, logs: Path, simulate: bool
) -> int:
    """Believe the releases of a key no longer."""
    from station.cli.limits.releasekeys import distrust_key

    return distrust_key(fingerprint, reason, by, pin_file, logs, simulate=simulate)


@keys.command()
@by_engineer
@pin_file
@logs_folder
@simulate
def confirm(*, by: str, pin_file: Path | None, logs: Path, simulate: bool) -> int:
    """Say that keys and releases are right, after a damaged log lost some entries."""
    from station.cli.limits.releasekeys import confirm_keys

    return confirm_keys(by, pin_file, logs, simulate=simulate)


@keys.command(name="list")
@logs_folder
@simulate
def list_keys(*, logs: Path, simulate: bool) -> int:
    """Show which keys are trusted, since when and by whom."""
    from station.cli.limits.releasekeys import show_keys

    return show_keys(logs, simulate=simulate)
