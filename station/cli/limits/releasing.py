"""`station limits release`: sign a limit file for production."""

from __future__ import annotations

from pathlib import Path

import click

from station.cli.shared.exitcodes import Exit
from station.cli.shared.secretwords import secret
from station.cli.wiring.rights import authority_in, by_pin
from station.cli.wiring.wiring import log_folder
from station.cycle.allowed.releasing import release_limits
from station.cycle.allowed.rights import Right
from station.judging.files.limit_file import limit_file
from station.judging.release.keys import opened_key
from station.service.builtlimits import in_archive


def release_file(
    path: Path,
    key_path: Path,
    by: str,
    pin_file: Path | None,
    passphrase_file: Path | None,
    logs: Path,
    *,
    simulate: bool,
) -> int:
    """Check a limit file, sign it, and keep the release in the log."""
    limit_file(path)  # its faults are told before anybody is asked for a secret
    with authority_in(log_folder(logs, simulated=simulate)) as (authority, log):
        engineer = by_pin(authority, by, pin_file, Right.RELEASE)
        key = opened_key(key_path, secret(f"passphrase of {key_path}", passphrase_file))
        done = release_limits(authority, log, path, key, engineer, archived=in_archive(path))
    model = done.shelved.limits.model
    word = "was released already" if done.again else "is released"
    click.echo(f"{model.name} revision {model.revision} {word}: {done.path}")
    click.echo(f"Copy {path.name} and {done.path.name} together to every station.")
    return Exit.PASS
