"""`station keys`: make a key, and say whose releases are believed."""

from __future__ import annotations

from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.cli.shared.secretwords import secret
from station.cli.shared.tables import plain_table
from station.cli.wiring.rights import authority_in, by_pin
from station.cli.wiring.wiring import log_folder
from station.cycle.allowed.admission import unconfirmed_losses
from station.cycle.allowed.people import confirm_losses, distrust, trust
from station.cycle.allowed.rights import Right
from station.cycle.calibration.calibrationstate import day_words
from station.judging.release.keys import PUBLIC_ENDING, PublicKey, make_key, public_key_of

HEADERS = ("fingerprint", "trusted since", "by")


def make_release_key(path: Path, passphrase_file: Path | None) -> int:
    """Write a new key sealed by a passphrase."""
    public = make_key(path, secret("passphrase of the new key", passphrase_file, twice=True))
    click.echo(f"{path} is the private half: keep it where only you can read it.")
    click.echo(
        f"{path}{PUBLIC_ENDING} is the public half, fingerprint {public.fingerprint}: an engineer "
        "trusts it on each station with 'station keys trust'."
    )
    return Exit.PASS


def trust_key(path: Path, by: str, pin_file: Path | None, logs: Path, *, simulate: bool) -> int:
    """Believe the releases of a key."""
    key = public_key_of(path)
    with authority_in(log_folder(logs, simulated=simulate)) as (authority, _):
        trust(authority, key, by_pin(authority, by, pin_file, Right.TRUST))
    click.echo(f"The key {key.fingerprint} is trusted.")
    return Exit.PASS


def distrust_key(
    fingerprint: str, reason: str, by: str, pin_file: Path | None, logs: Path, *, simulate: bool
) -> int:
    """Believe the releases of a key no longer."""
    with authority_in(log_folder(logs, simulated=simulate)) as (authority, _):
        distrust(authority, fingerprint, reason, by_pin(authority, by, pin_file, Right.TRUST))
    click.echo(f"The key {fingerprint} is no longer trusted: what it released is not tested with.")
    return Exit.PASS


def confirm_keys(by: str, pin_file: Path | None, logs: Path, *, simulate: bool) -> int:
    """Say that keys and releases are right after the log was damaged."""
    with authority_in(log_folder(logs, simulated=simulate)) as (authority, log):
        losses = unconfirmed_losses(log)
        confirm_losses(authority, losses, by_pin(authority, by, pin_file, Right.TRUST))
    click.echo(f"Confirmed without {', '.join(losses)}.")
    return Exit.PASS


def show_keys(logs: Path, *, simulate: bool) -> int:
    """Show the trusted keys."""
    with authority_in(log_folder(logs, simulated=simulate)) as (authority, _):
        trusted = authority.roster().keys.values()
    rows = [
        (PublicKey(key.public_key).fingerprint, day_words(key.since_utc), key.by) for key in trusted
    ]
    click.echo(plain_table(HEADERS, rows) if rows else "No key is trusted.")
    return Exit.PASS
